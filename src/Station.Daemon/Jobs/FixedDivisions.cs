using System.Collections.Immutable;
using System.Globalization;
using Microsoft.Extensions.Logging;
using Station.Audio.Findings;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;

namespace Station.Daemon.Jobs;

/// <summary>
/// Lays a person's cuts on the take of a side that is open or in force, whatever its state, or takes them back. The decision is one transaction of the store; then it
/// is told in the record's history; then the take is divided and cut again from its master. A stop in between is made up for by <see cref="LateGuides"/>.
/// </summary>
internal sealed class FixedDivisions(IStationStore store, DivisionNews news, LateGuides late, JobSignal signal, TimeProvider clock, ILogger<FixedDivisions> log)
{
    private const int PageSize = 500;

    /// <summary>Fixes the cuts of the side's take. The same cuts again change nothing.</summary>
    /// <param name="cue">What was sent, as it read.</param>
    /// <param name="text">The same as a cue sheet's text.</param>
    /// <returns>The job that cuts the take, as it is now.</returns>
    /// <exception cref="DivisionRefusedException">Nothing was changed.</exception>
    public async Task<Job> FixAsync(string recordId, SideLetter side, CueResult cue, string text, CancellationToken cancellationToken)
    {
        if (cue.Sheet is not { } sheet)
        {
            throw new DivisionRefusedException(cue);
        }

        Job job = await FindAsync(recordId, side, cancellationToken);
        if (Beyond(job.Capture, cue) is { } beyond)
        {
            throw new DivisionRefusedException(beyond);
        }

        Take take = job.TakeOf(side.ToString());
        await store.SaveCueAsync(new StoredCue(job.Capture.RecordId, side.ToString(), cue.FileName, text, clock.GetUtcNow(), take.Number), cancellationToken);
        await news.TellAsync(job.Capture.RecordId, cancellationToken);
        log.CutsFixed(job.Capture.Label, sheet.Tracks.Length);
        await late.LookAsync(job.Capture.RecordId, cancellationToken);
        return (await store.JobAsync(job.Id, cancellationToken))!;
    }

    /// <summary>Takes a person's cuts back: the take is divided by the service again, also when nothing was fixed.</summary>
    /// <exception cref="DivisionRefusedException">Nothing was changed.</exception>
    public async Task<Job> ReleaseAsync(string recordId, SideLetter side, CancellationToken cancellationToken)
    {
        Job job = await FindAsync(recordId, side, cancellationToken);
        Take take = job.TakeOf(side.ToString());
        if (await store.CueAsync(job.Capture.RecordId, side.ToString(), take.Number, cancellationToken) is { } inForce)
        {
            await store.SaveCueAsync(inForce with { Text = null, At = clock.GetUtcNow() }, cancellationToken);
            await news.TellAsync(job.Capture.RecordId, cancellationToken);
        }

        log.CutsReleased(job.Capture.Label);
        await late.LookAsync(job.Capture.RecordId, cancellationToken);
        job = (await store.JobAsync(job.Id, cancellationToken))!;
        if (job.State == JobState.Done || job is { State: JobState.Held, Verdict: Verdict.Review })
        {
            job = await store.DivideAgainAsync(job.Id, cancellationToken);
            signal.Raise();
        }

        return job;
    }

    /// <summary>Starts that lie beyond the end of a capture, by the lines of the cue sheet; null when none does, or the length isn't known yet.</summary>
    public static CueResult? Beyond(Capture capture, CueResult cue)
    {
        if (cue.Sheet is not { } sheet || capture is not { Frames: { } frames, SampleRateHz: { } rateHz })
        {
            return null;
        }

        var ends = new CueTime((int)((double)frames / rateHz * CueTime.PartsPerSecond));
        ImmutableArray<SheetError> errors =
        [
            .. sheet.Tracks.Select((track, i) => (track, i)).Where(t => t.track.Start.ToFrame(rateHz) >= frames).Select(t => (cue.StartPlaces.IsDefaultOrEmpty ? new SheetError(1, 1, "", "") : cue.StartPlaces[t.i]) with
            {
                Message = string.Create(CultureInfo.InvariantCulture, $"track {t.track.Number} would start at {t.track.Start}, beyond the end of {capture.Label} at {ends}"),
            }),
        ];
        return errors.IsEmpty ? null : cue with { Sheet = null, Errors = errors };
    }

    private async Task<Job> FindAsync(string recordId, SideLetter side, CancellationToken cancellationToken)
    {
        ImmutableArray<Take> takes = await store.TakesAsync(recordId, cancellationToken);
        string letter = side.ToString();
        if (takes.IsEmpty)
        {
            throw new DivisionRefusedException(
                DivisionRefusal.NoTake, await store.SheetAsync(recordId, cancellationToken) is null ? $"There is no record {TextRules.Quote(recordId)}." : $"No side of {recordId} has a take yet.");
        }

        Take[] its = [.. takes.Where(t => t.Side == letter && t.State != TakeState.Void)];
        if (its.Length == 0)
        {
            throw new DivisionRefusedException(
                DivisionRefusal.NoTake,
                $"{takes[0].RecordId} has no take of side {letter}; there {(takes.Select(t => t.Side).Distinct().Count() == 1 ? "is side" : "are sides")} {string.Join(", ", takes.Select(t => t.Side).Distinct().Order(StringComparer.Ordinal))}.");
        }

        Take take = its.LastOrDefault(t => t.State is TakeState.Pending or TakeState.Accepted)
            ?? throw new DivisionRefusedException(DivisionRefusal.NotThisTake, $"No take of {its[0].RecordId}-{letter} is open or in force: {its[^1].Side}-{Number(its[^1])} is {its[^1].State.ToString().ToLowerInvariant()}.");
        string name = $"Take {letter}-{Number(take)} of {take.RecordId}";
        Job job = await JobOfAsync(take, cancellationToken)
            ?? throw new DivisionRefusedException(DivisionRefusal.NotThisTake, $"{name} has no capture.");
        if (job.Capture.Sides.Length > 1)
        {
            throw new DivisionRefusedException(
                DivisionRefusal.NotThisTake, $"{name} lies in {job.Capture.Label}, a capture of several sides: cuts can be fixed only for a side in a file of its own.");
        }

        if (job.Parts is not null)
        {
            throw new DivisionRefusedException(
                DivisionRefusal.NotThisTake, $"{name} is in parts ({string.Join(", ", job.Labels)}): cuts can be fixed only for a side in one file.");
        }

        return job.State is JobState.Queued or JobState.Running or JobState.Held or JobState.Done
            ? job
            : throw new DivisionRefusedException(
                DivisionRefusal.NotThisTake, $"{name} can't be cut: its job {job.Capture.Label} is {job.State.ToString().ToLowerInvariant()}. Try it again first: stationd retry {job.Capture.Label}");
    }

    private async Task<Job?> JobOfAsync(Take take, CancellationToken cancellationToken)
    {
        JobId? before = null;
        while (true)
        {
            ImmutableArray<Job> jobs = await store.JobsAsync(new JobQuery(before, PageSize, State: null, take.RecordId), cancellationToken);
            if (jobs.FirstOrDefault(j => j.Takes.Any(t => t.Id == take.Id) && j.Leads) is { } job)
            {
                return job;
            }

            if (jobs.Length < PageSize)
            {
                return null;
            }

            before = jobs[^1].Id;
        }
    }

    private static string Number(Take take) => take.Number.ToString(CultureInfo.InvariantCulture);
}
