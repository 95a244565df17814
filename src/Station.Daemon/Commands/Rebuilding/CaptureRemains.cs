using System.Collections.Immutable;
using System.Text.Json;
using Station.Archive.Bags;
using Station.Archive.Durability;
using Station.Archive.Originals;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Records;

namespace Station.Daemon.Commands.Rebuilding;

/// <summary>One capture as its report and its bag tell of it.</summary>
internal sealed record CaptureRemains(CaptureLabel Label, JobId Job)
{
    /// <summary>The newest report; null when the job had not come so far.</summary>
    public StationReport? Report { get; init; }

    /// <summary>Absolute path of the bag; null without one.</summary>
    public string? Bag { get; init; }

    /// <summary>The inspection document in the bag.</summary>
    public StationReport? InBag { get; init; }

    public RestoreRecipe? Recipe { get; init; }

    public CaptureId Id { get; init; }

    /// <summary>What is known best.</summary>
    public StationReport Document => Report ?? InBag!;

    public int RateHz => Document.Capture.SampleRateHz ?? 0;

    public long? Frames => Document.Capture is { DurationSeconds: { } seconds, SampleRateHz: { } rate } ? RebuiltStages.Frame(seconds, rate) : null;

    /// <summary>The part and whether a side was assumed, as its name says; a capture that was filed elsewhere before it was archived is told by its label alone.</summary>
    public (int? Part, bool SideAssumed) Named => CaptureName.Parse(Document.Capture.File) is CaptureName.Capture name && name.SidesText == Label.Sides
        && string.Equals(name.Record.Value, Label.Record, StringComparison.OrdinalIgnoreCase)
            ? (name.Part, name.SideAssumed)
            : (null, false);

    /// <summary>Reads reports and bags of some records; what can't be read is told and left out.</summary>
    public static ImmutableArray<CaptureRemains> Read(ImmutableArray<RecordRemains> records, Action<string> remark)
    {
        var found = new Dictionary<string, CaptureRemains>(StringComparer.OrdinalIgnoreCase);
        foreach ((ReportName name, string path) in records.SelectMany(r => r.Reports))
        {
            // One job has one report, unless its capture was filed elsewhere and the old one is still there: the later one counts.
            if (ReadDocument(path, remark) is { } report && report.Job.Id == name.Job.Value
                && (!found.TryGetValue(name.Job.Value, out CaptureRemains? known) || Last(report) > Last(known.Report!)))
            {
                found[name.Job.Value] = new CaptureRemains(name.Label, name.Job) { Report = report };
            }
        }

        Dictionary<string, string> byLabel = found.Values.ToDictionary(f => f.Label.Text, f => f.Job.Value, StringComparer.OrdinalIgnoreCase);
        foreach ((CaptureLabel label, string bag) in records.SelectMany(r => r.Bags))
        {
            StationReport? inBag = ReadDocument(Path.Combine(bag, "data", "inspection.json"), remark);
            string? job = inBag?.Job.Id ?? byLabel.GetValueOrDefault(label.Text);
            if (job is null)
            {
                remark($"{bag}: neither its inspection.json nor a report tells of it; it is left out.");
                continue;
            }

            CaptureRemains known = found.GetValueOrDefault(job) ?? new CaptureRemains(label, new JobId(job));
            found[job] = known with { Label = label, Bag = bag, InBag = inBag, Recipe = ReadRecipe(bag, remark) };
        }

        return [.. found.Values.Where(f => f.Report is not null || f.InBag is not null).Select(f => f with { Id = CaptureId.New(f.Document.Job.ReceivedAt) })
            .OrderBy(f => f.Job.Value, StringComparer.Ordinal)];
    }

    private static DateTimeOffset Last(StationReport report) => report.Job.Stages.Select(s => s.StartedAt).DefaultIfEmpty(report.Job.ReceivedAt).Max();

    private static StationReport? ReadDocument(string path, Action<string> remark)
    {
        if (!File.Exists(path))
        {
            return null;
        }

        try
        {
            return ReportJson.Deserialize(File.ReadAllBytes(path));
        }
        catch (Exception error) when (error is JsonException or IOException or UnauthorizedAccessException)
        {
            remark($"{path}: {error.Message.ReplaceLineEndings(" ")}; it is passed over.");
            return null;
        }
    }

    private static RestoreRecipe? ReadRecipe(string bag, Action<string> remark)
    {
        try
        {
            return OriginalRestore.ReadRecipe(bag);
        }
        catch (Exception error) when (error is BagFormatException or PosixException or NotRegularFileException)
        {
            remark(error.Message);
            return null;
        }
    }
}
