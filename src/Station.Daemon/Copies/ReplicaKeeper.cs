using System.Collections.Immutable;
using Microsoft.Extensions.Logging;
using Station.Archive.Copies;
using Station.Archive.Durability;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Copies;

/// <summary>
/// Brings one replica up to date: bags it lacks, oldest first, then the histories. Works from what the store knows to be behind, so it catches up by itself after days
/// of absence; one keeper a replica, so that a slow one holds nobody.
/// </summary>
internal sealed class ReplicaKeeper(
    CopyPlace place, CopyPlace archive, IStationStore store, RecordHistory history, ReportWriter reports, PlaceWatch watch, TimeProvider clock, ILogger<ReplicaKeeper> log)
{
    private const int AtATime = 50;

    /// <summary>Between two rounds, which look at the place and at every record's history. Tries of single bags come in between.</summary>
    public static readonly TimeSpan BetweenRounds = TimeSpan.FromSeconds(5);

    /// <summary>Bags archived while the last round asked are asked for again.</summary>
    private static readonly TimeSpan Overlap = TimeSpan.FromMinutes(5);

    private readonly HistoryCopies _histories = new(archive, place);
    private readonly Random _jitter = new(Environment.ProcessId);
    private DateTimeOffset _expectedSince = DateTimeOffset.UnixEpoch;
    private DateTimeOffset? _nextRound;
    private bool _isAway;

    /// <summary>A round when one is due; else what waited for its next try, while the place is there.</summary>
    public async Task LookAsync(CancellationToken cancellationToken)
    {
        if (_nextRound is not { } next || clock.GetUtcNow() >= next)
        {
            await RunAsync(cancellationToken);
        }
        else if (!_isAway && place.WhyNotReady() is null && archive.WhyNotReady() is null)
        {
            await CopyDueAsync(cancellationToken);
        }
    }

    /// <summary>One round: until nothing is left to be done that need not wait, or the place stops working.</summary>
    public async Task RunAsync(CancellationToken cancellationToken)
    {
        DateTimeOffset asked = clock.GetUtcNow();
        _nextRound = asked + BetweenRounds;
        await store.ExpectCopiesAsync(place.Name, _expectedSince, cancellationToken);
        _expectedSince = asked - Overlap;
        if (!await IsReadyAsync(cancellationToken) || archive.WhyNotReady() is not null || !await CopyDueAsync(cancellationToken))
        {
            return;
        }

        foreach ((string record, string problem) in _histories.Bring(cancellationToken))
        {
            log.HistoryNotCopied(record, place.Name, problem);
        }
    }

    /// <summary>Is the place there? Waits that began before it went away are void when it is back.</summary>
    private async Task<bool> IsReadyAsync(CancellationToken cancellationToken)
    {
        bool ready = await watch.IsReadyAsync(place, cancellationToken);
        if (ready && _isAway)
        {
            await store.CopiesAtOnceAsync(place.Name, cancellationToken);
        }

        _isAway = !ready;
        return ready;
    }

    /// <returns>False when the place can't be used any more.</returns>
    private async Task<bool> CopyDueAsync(CancellationToken cancellationToken)
    {
        while (await store.BehindAsync(place.Name, clock.GetUtcNow(), AtATime, cancellationToken) is { Length: > 0 } behind)
        {
            foreach (BagToDo todo in behind)
            {
                if (!await CopyAsync(todo, cancellationToken))
                {
                    return false;
                }
            }
        }

        return true;
    }

    /// <returns>False when the place can't be used any more.</returns>
    private async Task<bool> CopyAsync(BagToDo todo, CancellationToken cancellationToken)
    {
        Capture capture = todo.Capture;
        int tries = todo.Copy.Tries + 1;
        string bag = archive.BagOf(capture);
        string copy = place.BagOf(capture);
        TimeSpan wait = FailurePolicy.WaitAfter(tries, _jitter.NextDouble());
        await store.CopyTryingAsync(capture.Id, place.Name, clock.GetUtcNow() + wait, cancellationToken);
        try
        {
            DurableFile.CreateFolder(place.RecordFolder(capture));
            BagCopies.Copy(bag, copy, cancellationToken);
        }
        catch (IOException error)
        {
            if (!await IsReadyAsync(cancellationToken))
            {
                return false;
            }

            // From the end of the try: one that took long to fail is not repeated at once.
            await store.CopyNotProvedAsync(
                capture.Id, place.Name, BagCopyState.Behind, error.Message, clock.GetUtcNow(), cancellationToken, nextTryAt: clock.GetUtcNow() + wait);
            log.NotCopied(capture.Label, place.Name, wait.TotalSeconds, error.Message);
            if (error is BagNotProvedException)
            {
                // Either of the two may be damaged: the audit, which reads the archive's by itself, is to say whether that one is, and to mend it.
                await store.ReadSoonAsync(capture.Id, CopyPlaces.Archive, cancellationToken);
            }

            if (tries >= FailurePolicy.TriesBeforeAlert)
            {
                await watch.TroubleAsync(place, capture, error.Message, cancellationToken);
            }

            return true;
        }

        DateTimeOffset now = clock.GetUtcNow();
        string tagManifest = BagCopies.TagManifestSha256(copy);
        history.Replicated(capture, place.Name, tagManifest, now);
        await store.CopyProvedAsync(capture.Id, place.Name, tagManifest, now, cancellationToken);
        log.Copied(capture.Label, place.Name);
        if (tries > FailurePolicy.TriesBeforeAlert && await store.CountStuckAsync(place.Name, FailurePolicy.TriesBeforeAlert, cancellationToken) == 0)
        {
            await store.RaiseAlertAsync(CopyAlerts.CaughtUp(place), cancellationToken);
        }

        await TellAsync(capture, cancellationToken);
        return true;
    }

    /// <summary>A report that was written before tells of the new copy too.</summary>
    private async Task TellAsync(Capture capture, CancellationToken cancellationToken)
    {
        if (await store.JobByLabelAsync(capture.Label, cancellationToken) is { State: JobState.Done } job)
        {
            reports.Write(job, job.State, job.Reason);
        }
    }
}
