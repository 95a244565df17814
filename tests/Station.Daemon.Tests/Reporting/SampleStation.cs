using System.Text.Json.Nodes;
using Microsoft.Extensions.Time.Testing;
using Station.Audio.Findings;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Tests.Reporting;

/// <summary>A station in a temporary folder with a real store, and ways to bring jobs into every state.</summary>
internal sealed class SampleStation : IDisposable
{
    private readonly TemporaryFolder _folder = new();

    public SampleStation(string name = "Lantern Street")
    {
        Folders = new StationFolders(Path.Combine(_folder.Path, "station"));
        Folders.Create();
        Folders.CreateArchive(Clock.GetUtcNow());
        Options = new StationOptions { Name = name, Folder = Folders.Root };
        Store = SqliteStore.Open(Folders.Database, Clock);
        Reports = new ReportWriter(Store, Folders, Options, Clock);
    }

    /// <summary>An afternoon of the invented scenario.</summary>
    public FakeTimeProvider Clock { get; } = new(new DateTimeOffset(2031, 10, 3, 12, 4, 0, TimeSpan.Zero));

    public StationFolders Folders { get; }

    public StationOptions Options { get; }

    public SqliteStore Store { get; }

    public ReportWriter Reports { get; }

    public Task SheetAsync(string record, string artist, string title, string sides = "sides: {A: {}, B: {}}") => Store.SaveSheetAsync(
        new StoredSheet(record, record + ".sheet.yaml", $"record: {record}\nartist: \"{artist}\"\ntitle: \"{title}\"\n{sides}\n", artist, title, Clock.GetUtcNow()),
        CancellationToken.None);

    /// <summary>A capture that waits in the queue.</summary>
    public async Task<Job> QueuedAsync(string record, string sides, string? file = null)
    {
        Clock.Advance(TimeSpan.FromMinutes(3));
        DateTimeOffset now = Clock.GetUtcNow();
        JobId id = JobId.New(now);
        string name = file ?? $"{record}-{sides}.wav";
        return await Store.AddCaptureAsync(
            new NewCapture(id, name, record, sides, Part: null, SideAssumed: false, 228_262_440, $"working/{id}/capture/{name}", now), CancellationToken.None);
    }

    /// <summary>A capture a worker has claimed; it must be the only one waiting.</summary>
    public async Task<Job> RunningAsync(string record, string sides, SampleSide? side = null)
    {
        await QueuedAsync(record, sides);
        return await MeasuredAsync(await ClaimAsync(), side ?? new SampleSide(), VerdictRule.Of((side ?? new SampleSide()).Findings));
    }

    /// <summary>A capture that ended in <paramref name="state"/>: held, done, failed, superseded or discarded after it was measured.</summary>
    public async Task<Job> EndedAsync(string record, string sides, JobState state, SampleSide? side = null, string? reason = null)
    {
        SampleSide sample = side ?? new SampleSide();
        await QueuedAsync(record, sides);
        Job job = await ClaimAsync();
        if (state is JobState.Refused or JobState.Duplicate)
        {
            return await FinishAsync(job, state, reason ?? "The file holds no sound: byte 0: RIFF expected, zeros found.");
        }

        job = await MeasuredAsync(job, sample, VerdictRule.Of(sample.Findings));
        if (state == JobState.Done)
        {
            job = await StageAsync(job, StageNames.Archive, StageResults.Write(SampleSide.Archived(job.Capture.Label, Clock.GetUtcNow())));
            job = await StageAsync(job, StageNames.Publish, StageResults.Write(SampleSide.Published()));
        }

        JobState first = state is JobState.Discarded or JobState.Superseded ? JobState.Held : state;
        string? why = reason ?? (first == JobState.Held ? HeldReason.Of(job, new NextStep.Hold(job.Verdict!.Value)) : first == JobState.Failed ? "HL-0031-B.wav: archive: write /station/archive: Input/output error (5)" : null);
        job = await FinishAsync(job, first, why);
        if (state == JobState.Discarded)
        {
            job = await Store.DiscardAsync(job.Id, "played with the wrong stylus", CancellationToken.None);
        }

        return job;
    }

    public Task<Job> AcceptAsync(Job job, string why) => Store.AcceptAsync(job.Id, why, CancellationToken.None);

    /// <summary>Puts news into the outbox without a job that is about it.</summary>
    public async Task<Job> AlertAsync(string type, string subject, JsonObject? data = null)
    {
        await QueuedAsync("HL-0099", "A");
        Job job = await ClaimAsync();
        return await Store.FinishAsync(job, JobState.Refused, "refused", [new AlertDraft(type, subject, data ?? new JsonObject { ["record"] = "HL-0099" })], CancellationToken.None);
    }

    public void Dispose()
    {
        Store.Dispose();
        _folder.Dispose();
    }

    private async Task<Job> ClaimAsync() =>
        await Store.ClaimAsync("test/1", Clock.GetUtcNow(), TimeSpan.FromMinutes(1), CancellationToken.None) ?? throw new InvalidOperationException("Nothing waits.");

    private async Task<Job> MeasuredAsync(Job job, SampleSide side, Verdict verdict)
    {
        string made = Path.Combine(Folders.JobWorking(job.Id.Value), "made");
        Directory.CreateDirectory(made);
        using (FileStream envelope = File.Create(Path.Combine(made, "envelope.bin")))
        {
            side.Envelope().Write(envelope);
        }

        job = await StageAsync(job, StageNames.Inspect, StageResults.Write(side.Inspected(job.Capture.FileName, Clock.GetUtcNow())));
        return await StageAsync(job, StageNames.Divide, StageResults.Write(side.Divided(job.Capture.Sides[..1])), verdict);
    }

    private async Task<Job> FinishAsync(Job job, JobState state, string? reason)
    {
        Reports.Write(job, state, reason);
        Reports.WritePicture(job);
        return await Store.FinishAsync(job, state, reason, [], CancellationToken.None);
    }

    private Task<Job> StageAsync(Job job, string name, string result, Verdict? verdict = null)
    {
        DateTimeOffset started = Clock.GetUtcNow();
        Clock.Advance(TimeSpan.FromSeconds(4.5));
        return Store.RecordStageAsync(
            job, new StageRecord(name, StageOutcomeKind.Done, job.Attempt, started, Clock.GetUtcNow(), result, null), StageFacts.Of(name, result), verdict, CancellationToken.None);
    }
}
