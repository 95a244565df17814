using System.Collections.Immutable;
using System.Globalization;
using System.Text.RegularExpressions;
using Station.Archive.Durability;
using Station.Audio.Findings;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Tests.Jobs.Support;
using Xunit;

namespace Station.Daemon.Tests.Jobs;

/// <summary>
/// The property the whole house stands on: wherever the process ends, the next start brings a job to the end it would have had, with
/// the same files, the same rows and the news told once; and at every moment the dropped bytes lie whole somewhere.
/// </summary>
public sealed partial class DurabilityTests : IDisposable
{
    private readonly TestStation _station = new();
    private int _records;

    public void Dispose() => _station.Dispose();

    public static TheoryData<string> Ways() => ["accept", "review", "retake", "retake accepted", "refused", "duplicate", "set aside"];

    [Theory, MemberData(nameof(Ways))]
    public async Task However_often_the_store_dies_the_end_is_the_same(string way)
    {
        (string expected, int calls) = await GoAsync(way, dieAt: 0, afterwards: false);
        Assert.InRange(calls, 3, 60);
        for (int k = 1; k <= calls; k++)
        {
            foreach (bool afterwards in new[] { false, true })
            {
                (string found, _) = await GoAsync(way, k, afterwards);
                Assert.True(expected == found, string.Create(
                    CultureInfo.InvariantCulture, $"{way}: died {(afterwards ? "after" : "before")} call {k} of {calls}.\nundisturbed:\n{expected}\nthen:\n{found}"));
            }
        }
    }

    /// <summary>Takes one capture of a record of its own all the way, the store dying once, and describes what is left.</summary>
    private async Task<(string Found, int Calls)> GoAsync(string way, int dieAt, bool afterwards)
    {
        string record = string.Create(CultureInfo.InvariantCulture, $"HL-{++_records:0000}");
        byte[] content = System.Text.Encoding.UTF8.GetBytes($"sound of {record}");
        FakePipeline Pipeline() => Make(way, content);

        Job job = await _station.DropAsync($"{record}-A.wav", record, "A", content);
        if (way == "retake accepted")
        {
            await DriveAsync(Pipeline(), _station.Store, job.Id);
            await _station.Store.AcceptAsync(job.Id, "no other copy", CancellationToken.None);
        }

        IStationStore dying = DyingStore.Over(_station.Store, dieAt, afterwards);
        try
        {
            await DriveAsync(Pipeline(), dying, job.Id);
        }
        catch (StoreDiedException)
        {
            Assert.True(dieAt > 0);
        }

        Assert.True(_station.Keeps(content), $"{way}, call {dieAt}, {afterwards}: the dropped bytes are nowhere.");
        if (dieAt > 0)
        {
            await _station.Recovery().RunAsync(CancellationToken.None);
            await DriveAsync(Pipeline(), _station.Store, job.Id);
            Assert.True(_station.Keeps(content), $"{way}, call {dieAt}, {afterwards}: the dropped bytes are nowhere at the end.");
        }

        return (await DescribeAsync(await _station.LoadAsync(job.Id), record), ((DyingStore)(object)dying).Calls);
    }

    private FakePipeline Make(string way, byte[] content)
    {
        var pipeline = new FakePipeline(_station, way switch
        {
            "review" => Verdict.Review,
            "retake" or "retake accepted" => Verdict.Retake,
            _ => Verdict.Accept,
        });
        switch (way)
        {
            case "refused":
                pipeline.Instead[StageNames.Inspect] = job => new StageOutcome.Refused($"{job.Capture.FileName}: no sound in it.");
                break;
            case "duplicate":
                string kept = Path.Combine(_station.Folders.Archive, "kept.wav");
                DurableFile.Replace(kept, content);
                pipeline.Instead[StageNames.Inspect] = job =>
                {
                    Assert.True(File.Exists(_station.Folders.Absolute(job.Capture.Location)), "Inspect was asked for a file that is gone.");
                    return new StageOutcome.Duplicate("the same bytes are kept", kept);
                };
                break;
            case "set aside":
                pipeline.Instead[StageNames.Divide] = _ => throw new InvalidOperationException("nobody foresaw this");
                break;
            default:
                break;
        }

        return pipeline;
    }

    /// <summary>What the workers do: claim and run until nothing is queued.</summary>
    private async Task DriveAsync(FakePipeline pipeline, IStationStore store, JobId expected)
    {
        for (int run = 0; await store.ClaimAsync("test", _station.Clock.GetUtcNow() + TimeSpan.FromDays(1), TimeSpan.FromMinutes(1), CancellationToken.None) is { } job; run++)
        {
            Assert.Equal(expected, job.Id);
            Assert.True(run < 20, "The job goes round.");
            await _station.Runner(pipeline.Stages, store).RunAsync(job, CancellationToken.None);
        }
    }

    private async Task<string> DescribeAsync(Job job, string record)
    {
        var lines = new List<string>
        {
            $"job {job.State} verdict {job.Verdict} reason {job.Reason} at '{job.Capture.Location}' bag {job.Capture.Bag} owner {job.Owner} move {job.PendingMove} finished {job.FinishedAt:O}",
            $"stages {string.Join(", ", job.Stages.Values.Where(s => s.Outcome == StageOutcomeKind.Done).Select(s => $"{s.Name} {s.Result}"))}",
            $"takes {string.Join(", ", job.Takes.Select(t => $"{t.Side}{t.Number} {t.State} {t.Reason}"))}",
        };
        ImmutableArray<Alert> alerts = await _station.Store.AlertsAsync(null, 500, CancellationToken.None);
        lines.AddRange(alerts.Where(a => a.JobId == job.Id).Select(a => $"alert {a.Type} {a.Subject}"));
        foreach (string file in TestStation.Tree(_station.Folders.Root).Where(f => f.Contains(record, StringComparison.Ordinal) || f.Contains(job.Id.Value, StringComparison.Ordinal)))
        {
            lines.Add($"file {file}: {await File.ReadAllTextAsync(Path.Combine(_station.Folders.Root, file))}");
        }

        lines.AddRange(Directory.EnumerateDirectories(_station.Folders.Root, "*", SearchOption.AllDirectories)
            .Select(d => Path.GetRelativePath(_station.Folders.Root, d)).Where(d => d.Contains(record, StringComparison.Ordinal) || d.Contains(job.Id.Value, StringComparison.Ordinal))
            .Order(StringComparer.Ordinal).Select(d => $"folder {d}"));

        // How often a job was claimed differs, and nothing else may.
        string text = string.Join('\n', lines).Replace(record, "RECORD", StringComparison.Ordinal).Replace(job.Id.Value, "JOB", StringComparison.Ordinal);
        return EventIds.Replace(Attempts.Replace(Digests.Replace(text, "DIGEST"), "\"attempts\": N"), "\"id\":\"UUID\"");
    }

    [GeneratedRegex("[0-9a-f]{64}", RegexOptions.CultureInvariant, 1000)]
    private static partial Regex Digests { get; }

    [GeneratedRegex("\"attempts\": [0-9]+", RegexOptions.CultureInvariant, 1000)]
    private static partial Regex Attempts { get; }

    [GeneratedRegex("\"id\":\"[0-9a-f-]{36}\"", RegexOptions.CultureInvariant, 1000)]
    private static partial Regex EventIds { get; }
}
