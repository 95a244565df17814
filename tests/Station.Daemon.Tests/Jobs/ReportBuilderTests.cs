using System.Text;
using System.Text.Json;
using System.Text.Json.Nodes;
using Station.Audio.Findings;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Jobs;

public sealed class ReportBuilderTests : IDisposable
{
    private readonly TestStation _station = new();

    public void Dispose() => _station.Dispose();

    [Fact]
    public async Task A_job_that_was_never_measured_reports_what_is_known_and_null_for_the_rest()
    {
        Job job = await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", [1, 2, 3]);
        JsonNode report = Json(ReportBuilder.Build(job, JobState.Refused, "no sound", sheet: null, "quay", TestStation.Start, "stationd 0"));
        Assert.Equal("station-report-1", (string?)report["schema"]);
        Assert.Equal(("refused", "no sound", 0), ((string?)report["job"]!["state"], (string?)report["job"]!["reason"], (int)report["job"]!["attempts"]!));
        Assert.Equal(("HL-0031-A.wav", 3), ((string?)report["capture"]!["file"], (int)report["capture"]!["bytes"]!));
        Assert.Null(report["capture"]!["sha256"]);
        Assert.Null(report["measures"]);
        Assert.Null(report["division"]);
        Assert.Empty(report["findings"]!.AsArray());
        Assert.False(report.AsObject().ContainsKey("outputs"));
        Assert.False(report.AsObject().ContainsKey("archive"));
        Assert.Equal(("A", 1), ((string?)report["takes"]![0]!["side"], (int)report["takes"]![0]!["number"]!));
    }

    [Fact]
    public async Task A_finished_job_reports_stages_in_their_order_tracks_in_seconds_and_the_sheet()
    {
        Job job = await DoneAsync();
        var sheet = new StoredSheet("HL-0031", "s", "record: HL-0031", "The Lantern Street Quintet", "Tide Tables", TestStation.Start);
        StationReport report = ReportBuilder.Build(job, JobState.Done, null, sheet, "quay", TestStation.Start, "stationd 0");
        Assert.Equal(["intake", "inspect", "divide", "archive", "encode", "publish"], report.Job.Stages.Select(s => s.Name));
        Assert.All(report.Job.Stages, s => Assert.Equal("done", s.Outcome));
        Assert.Equal(("HL-0031", "The Lantern Street Quintet", "Tide Tables"), (report.Record!.Id, report.Record.Artist, report.Record.Title));
        Assert.Equal((0.0, 1.0), (report.Division!.Tracks[0].StartSeconds, report.Division.Tracks[0].EndSeconds));
        Assert.Equal([new SecondsSpan(0, 1)], report.Takes[0].Spans);
        Assert.Equal("stationd 0", report.Software.Version);
    }

    [Fact]
    public async Task The_inspection_document_has_no_outputs_and_no_archive()
    {
        StationReport report = ReportBuilder.WithoutOutputs(
            ReportBuilder.Build(await DoneAsync(), JobState.Running, null, sheet: null, "quay", null, "stationd 0"));
        JsonObject json = Json(report).AsObject();
        Assert.False(json.ContainsKey("outputs"));
        Assert.False(json.ContainsKey("archive"));
        Assert.True(json.ContainsKey("findings"));
    }

    [Fact]
    public async Task What_is_written_is_read_back_the_same_and_anything_else_is_refused()
    {
        StationReport report = ReportBuilder.Build(await DoneAsync(Verdict.Review), JobState.Held, "quiet", sheet: null, "Ålesund 幾", null, "stationd 0");
        byte[] bytes = ReportJson.Serialize(report);
        Assert.Equal(bytes, ReportJson.Serialize(ReportJson.Deserialize(bytes)));
        Assert.Contains("Ålesund 幾", Encoding.UTF8.GetString(bytes), StringComparison.Ordinal);
        Assert.DoesNotContain('\r', Encoding.UTF8.GetString(bytes));

        JsonObject unknown = JsonNode.Parse(bytes)!.AsObject();
        unknown["extra"] = 1;
        Assert.Throws<JsonException>(() => ReportJson.Deserialize(Encoding.UTF8.GetBytes(unknown.ToJsonString())));
        JsonObject missing = JsonNode.Parse(bytes)!.AsObject();
        missing.Remove("job");
        Assert.Throws<JsonException>(() => ReportJson.Deserialize(Encoding.UTF8.GetBytes(missing.ToJsonString())));
    }

    [Fact]
    public async Task Times_are_utc_with_milliseconds_and_text_order_is_time_order()
    {
        Job job = await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", [1]);
        JsonNode report = Json(ReportBuilder.Build(
            job, JobState.Done, null, sheet: null, "quay", new DateTimeOffset(2031, 3, 30, 3, 0, 0, TimeSpan.FromHours(2)), "stationd 0"));
        Assert.Equal("2031-03-30T01:00:00.000Z", (string?)report["job"]!["finishedAt"]);
        Assert.Equal("2031-03-14T09:26:53.000Z", (string?)report["job"]!["receivedAt"]);
    }

    private async Task<Job> DoneAsync(Verdict verdict = Verdict.Accept)
    {
        await _station.DropAsync("HL-0031-A.wav", "HL-0031", "A", [1, 2, 3]);
        return await _station.Runner(new FakePipeline(_station, verdict).Stages).RunAsync((await _station.ClaimAsync())!, CancellationToken.None);
    }

    private static JsonNode Json(StationReport report) => JsonNode.Parse(ReportJson.Serialize(report))!;
}
