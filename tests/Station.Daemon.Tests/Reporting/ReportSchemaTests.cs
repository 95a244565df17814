using System.Collections.Immutable;
using System.Text.Json;
using System.Text.Json.Nodes;
using Json.Schema;
using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Xunit;

namespace Station.Daemon.Tests.Reporting;

public sealed class ReportSchemaTests
{
    // The published schema of the report, as it stands in docs/schemas and is linked into this assembly.
    private static readonly JsonSchema Schema = Load();

    public static TheoryData<string> States => [.. Enum.GetNames<JobState>()];

    [Theory, MemberData(nameof(States))]
    public async Task The_report_of_a_job_in_any_state_is_valid(string name)
    {
        using var station = new SampleStation();
        JobState state = Enum.Parse<JobState>(name);
        Job job = await InStateAsync(station, state);

        byte[] report = ReportJson.Serialize(station.Reports.Build(job, state, job.Reason));

        AssertValid(report);
    }

    [Fact]
    public async Task The_inspection_document_is_valid_and_has_neither_outputs_nor_archive()
    {
        using var station = new SampleStation();
        Job job = await InStateAsync(station, JobState.Done);

        byte[] document = ReportJson.Serialize(ReportBuilder.WithoutOutputs(station.Reports.Build(job, JobState.Done, reason: null)));

        AssertValid(document);
        JsonObject root = JsonNode.Parse(document)!.AsObject();
        Assert.False(root.ContainsKey("outputs"));
        Assert.False(root.ContainsKey("archive"));
    }

    [Fact]
    public void A_report_with_every_value_filled_in_is_valid() => AssertValid(ReportJson.Serialize(Full()));

    [Fact]
    public void A_mono_report_with_every_nullable_value_null_is_valid() => AssertValid(ReportJson.Serialize(Bare()));

    [Fact]
    public void Every_field_the_report_writes_is_required_by_the_schema()
    {
        JsonObject full = Document(Full());
        string[] accepted = [.. Paths(full).Where(path => IsValid(Without(full, path)))];

        // What only a station adds, and may be left out as a whole.
        Assert.Equal(["archive", "outputs"], accepted.Order(StringComparer.Ordinal));
    }

    [Fact]
    public void A_field_the_schema_does_not_know_is_refused_in_every_object()
    {
        JsonObject full = Document(Full());
        string[] objects = [.. Objects(full, "")];

        Assert.NotEmpty(objects);
        Assert.All(objects, path => Assert.False(IsValid(With(full, path)), $"An unknown field was accepted in '{path}'."));
    }

    [Theory]
    [InlineData("job.verdict", "fine")]
    [InlineData("job.state", "asleep")]
    [InlineData("job.receivedAt", "yesterday")]
    [InlineData("capture.sha256", "ABC")]
    [InlineData("schema", "station-report-2")]
    public void A_value_outside_its_set_is_refused(string path, string value)
    {
        JsonObject document = Document(Full());
        string[] parts = path.Split('.');
        JsonObject parent = parts.SkipLast(1).Aggregate(document, (o, p) => o[p]!.AsObject());
        parent[parts[^1]] = value;

        Assert.False(IsValid(document));
    }

    [Fact]
    public void Every_property_of_the_schema_is_described()
    {
        JsonNode schema = JsonNode.Parse(SchemaText())!;
        string[] undescribed = [.. Properties(schema, "#").Where(p => p.Value["description"] is null && p.Value["$ref"] is null).Select(p => p.Path)];

        Assert.Empty(undescribed);
    }

    [Fact]
    public void Every_finding_there_is_stands_in_the_description_of_the_report()
    {
        string description = Resource("report.md");

        Assert.All(FindingCodes.DefaultSeverity.Keys, code => Assert.Contains($"`{code}`", description, StringComparison.Ordinal));
    }

    // Left out when nothing is in doubt, whole when something is.
    [Fact]
    public void Other_places_for_a_boundary_are_valid_only_with_all_their_fields()
    {
        StationReport full = Full();
        JsonObject document = Document(full with
        {
            Division = full.Division! with { Alternatives = [new ReportAlternative("A", 2, 251.02, 253.5, 0.31, "it is quiet for 2.5 s"), new ReportAlternative("A", null, 400, 400, 0.1, "no gap")] },
        });

        Assert.True(IsValid(document));
        Assert.All(
            ["side", "insteadOf", "endSeconds", "startSeconds", "confidence", "why"],
            field =>
            {
                JsonObject without = document.DeepClone().AsObject();
                Assert.True(without["division"]!["alternatives"]![0]!.AsObject().Remove(field));
                Assert.False(IsValid(without), field);
            });
    }

    [Fact]
    public void A_report_reads_back_as_it_was_written()
    {
        byte[] written = ReportJson.Serialize(Full());

        Assert.Equal(written, ReportJson.Serialize(ReportJson.Deserialize(written)));
    }

    internal static async Task<Job> InStateAsync(SampleStation station, JobState state)
    {
        await station.SheetAsync("HL-0031", "The Lantern Street Quintet", "Tide Tables");
        var clipped = new SampleSide { Findings = [SampleSide.Clipped, SampleSide.Offset], RecommendedChangeDb = -8.5 };
        switch (state)
        {
            case JobState.Queued:
                return await station.QueuedAsync("HL-0031", "A");
            case JobState.Running:
                return await station.RunningAsync("HL-0031", "A", clipped);
            case JobState.Superseded:
                Job older = await station.EndedAsync("HL-0031", "A", JobState.Held, clipped);
                await station.EndedAsync("HL-0031", "A", JobState.Done);
                return (await station.Store.JobAsync(older.Id, CancellationToken.None))!;
            default:
                return await station.EndedAsync("HL-0031", "A", state, state is JobState.Held or JobState.Discarded ? clipped : null);
        }
    }

    private static StationReport Full()
    {
        DateTimeOffset at = new(2031, 10, 3, 12, 4, 0, TimeSpan.Zero);
        var side = new SampleSide { Findings = [SampleSide.Clipped] };
        InspectResult inspected = side.Inspected("HL-0031-A.wav", at);
        return new StationReport
        {
            Job = new ReportJob("0197c3a8-0000-7000-8000-000000000000", "capture", "done", Verdict.Review, 2, "Accepted by the operator.", at, at, [new ReportStage("inspect", "done", at, 4.5)]),
            Capture = inspected.Capture with
            {
                Repairs = [new ReportRepair("file-truncated", "The file ends early.", 44, 12.5)],
                Broadcast = new ReportBroadcast(
                    2, "Side A", "Lantern Street", "LS0031A", "2031-10-03", "12:04:00", 3_600_000_000, SampleSide.Digest, -18.3, 9.1, -0.5, -14.2, -15.9, ["A=PCM,F=96000"]),
                Refusal = new ReportRefusal(44, 1.5, "a frame", "noise", "Play it again."),
            },
            Record = new ReportRecord("HL-0031", "The Lantern Street Quintet", "Tide Tables"),
            Takes = [new ReportTake("A", 1, [new SecondsSpan(0, 1294)])],
            Measures = inspected.Measures with
            {
                TruePeakDbtp = [-0.5, -0.4],
                LoudnessRangeLu = 9.1,
                Mono = new ReportMono(-26.5, FindingChannel.Left, 2.1),
                NoiseFloorDbfs = [-61.2, -60.9],
                NoiseFloorDba = -66.0,
                Hum = new ReportHum(50, [-72.1, -70.4]),
                RumbleDbfs = -48,
                TicksPerMinute = 3.1,
                Revolution = new ReportRevolution(1.8, 33.333, 0.01, 0.98),
                WowPercent = 0.08,
            },
            Findings = side.Findings,
            Level = new LevelAdvice(-8.5, -6),
            Station = new ReportStation("Lantern Street", "0197c3a8-0000-7000-8000-000000000001"),
            Division = new ReportDivision(DivisionMethod.WholeSide, 0.4, [new ReportTrack("A", 1, "Low Water", 6.2, 258.3, 0.9)]),
            Outputs = [new ReportOutput("master", "archive/HL-0031/HL-0031-A-c1/data/master.flac", SampleSide.Digest, 128_000_001, "flac")],
            Archive = new ReportArchive("archive/HL-0031/HL-0031-A-c1", at, [new ReportReplica("attic", at)]),
            Software = new ReportSoftware("stationd 0.1.0", [new ReportCodec("flac", "1.4.2")]),
        };
    }

    private static StationReport Bare() => new()
    {
        Job = new ReportJob("0197c3a8-0000-7000-8000-000000000000", "capture", "held", Verdict: null, 1, Reason: null, new DateTimeOffset(2031, 10, 3, 12, 4, 0, TimeSpan.Zero), FinishedAt: null, []),
        Capture = new ReportCapture { File = "HL-0031-A.wav", Bytes = 0 },
        Measures = new ReportMeasures { SamplePeakDbfs = [null], RmsDbfs = [null], CrestFactorDb = [null], DcOffset = [null] },
        Findings = [new Finding { Code = FindingCodes.LevelLow, Severity = Severity.Review, Message = "The capture is silent.", Advice = "Play this side again." }],
        Level = new LevelAdvice(null, -6),
        Station = new ReportStation("station", null),
        Software = new ReportSoftware("stationd 0.1.0", []),
    };

    private static JsonObject Document(StationReport report) => JsonNode.Parse(ReportJson.Serialize(report))!.AsObject();

    private static void AssertValid(byte[] document)
    {
        EvaluationResults results = Evaluate(JsonSerializer.Deserialize<JsonElement>(document));
        string[] errors = [.. (results.Details ?? []).Append(results).Where(d => d.Errors is not null).SelectMany(d => d.Errors!.Select(e => $"{d.InstanceLocation}: {e.Value}"))];
        Assert.True(results.IsValid, string.Join("\n", errors));
    }

    private static bool IsValid(JsonObject document) => Evaluate(JsonSerializer.SerializeToElement(document)).IsValid;

    private static EvaluationResults Evaluate(JsonElement document) =>
        Schema.Evaluate(document, new EvaluationOptions { OutputFormat = OutputFormat.List, RequireFormatValidation = true });

    private static JsonSchema Load() => JsonSchema.FromText(SchemaText());

    private static string SchemaText() => Resource("station-report-1.json");

    private static string Resource(string name)
    {
        using Stream stream = typeof(ReportSchemaTests).Assembly.GetManifestResourceStream(name)
            ?? throw new InvalidOperationException($"{name} is not linked into the test assembly.");
        using var reader = new StreamReader(stream);
        return reader.ReadToEnd();
    }

    /// <summary>Dotted paths of all fields, arrays by their first item.</summary>
    private static IEnumerable<string> Paths(JsonNode? node, string prefix = "") => node switch
    {
        JsonObject o => o.SelectMany(p => new[] { prefix + p.Key }.Concat(Paths(p.Value, prefix + p.Key + "."))),
        JsonArray { Count: > 0 } a => Paths(a[0], prefix + "0."),
        _ => [],
    };

    private static IEnumerable<string> Objects(JsonNode? node, string path) => node switch
    {
        JsonObject o => new[] { path }.Concat(o.SelectMany(p => Objects(p.Value, path + p.Key + "."))),
        JsonArray { Count: > 0 } a => Objects(a[0], path + "0."),
        _ => [],
    };

    private static JsonObject Without(JsonObject document, string path)
    {
        JsonObject copy = document.DeepClone().AsObject();
        string[] parts = path.Split('.');
        Assert.True(Find(copy, parts[..^1]).Remove(parts[^1]));
        return copy;
    }

    private static JsonObject With(JsonObject document, string path)
    {
        JsonObject copy = document.DeepClone().AsObject();
        Find(copy, path.Split('.', StringSplitOptions.RemoveEmptyEntries))["surprise"] = 1;
        return copy;
    }

    private static JsonObject Find(JsonNode root, IEnumerable<string> parts) =>
        parts.Aggregate(root, (node, part) => node is JsonArray a ? a[0]! : node[part]!).AsObject();

    private static IEnumerable<(string Path, JsonObject Value)> Properties(JsonNode? node, string path)
    {
        if (node is not JsonObject o)
        {
            return node is JsonArray a ? a.SelectMany((item, i) => Properties(item, $"{path}/{i}")) : [];
        }

        return o.SelectMany(p => p.Key == "properties"
            ? p.Value!.AsObject().SelectMany(q => new[] { ($"{path}/{q.Key}", q.Value!.AsObject()) }.Concat(Properties(q.Value, $"{path}/{q.Key}")))
            : Properties(p.Value, $"{path}/{p.Key}"));
    }
}
