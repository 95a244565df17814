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

    /// <summary>A bag that could not be copied waits for this long; others go first.</summary>
    private static readonly TimeSpan TryAgain = TimeSpan.FromMinutes(10);

    /// <summary>Bags archived while the last round asked are asked for again.</summary>
    private static readonly TimeSpan Overlap = TimeSpan.FromMinutes(5);

    private readonly HistoryCopies _histories = new(archive, place);
    private DateTimeOffset _expectedSince = DateTimeOffset.UnixEpoch;

    /// <summary>One round: until nothing is left to be done, or the place stops working.</summary>
    public async Task RunAsync(CancellationToken cancellationToken)
    {
        DateTimeOffset asked = clock.GetUtcNow();
        await store.ExpectCopiesAsync(place.Name, _expectedSince, cancellationToken);
        _expectedSince = asked - Overlap;
        if (!await watch.IsReadyAsync(place, cancellationToken) || archive.WhyNotReady() is not null)
        {
            return;
        }

        while (await store.BehindAsync(place.Name, clock.GetUtcNow() - TryAgain, AtATime, cancellationToken) is { Length: > 0 } behind)
        {
            foreach (BagToDo todo in behind)
            {
                if (!await CopyAsync(todo.Capture, cancellationToken))
                {
                    return;
                }
            }
        }

        foreach ((string record, string problem) in _histories.Bring(cancellationToken))
        {
            log.HistoryNotCopied(record, place.Name, problem);
        }
    }

    /// <returns>False when the place can't be used any more.</returns>
    private async Task<bool> CopyAsync(Capture capture, CancellationToken cancellationToken)
    {
        string copy = place.BagOf(capture);
        try
        {
            DurableFile.CreateFolder(place.RecordFolder(capture));
            BagCopies.Copy(archive.BagOf(capture), copy, cancellationToken);
        }
        catch (IOException error)
        {
            if (!await watch.IsReadyAsync(place, cancellationToken))
            {
                return false;
            }

            // Either of the two may be damaged: the audit, which reads each by itself, is to say which.
            await store.CopyNotProvedAsync(capture.Id, place.Name, BagCopyState.Behind, error.Message, clock.GetUtcNow(), cancellationToken);
            log.NotCopied(capture.Label, place.Name, error.Message);
            await watch.TroubleAsync(place, capture, error.Message, cancellationToken);
            return true;
        }

        DateTimeOffset now = clock.GetUtcNow();
        string tagManifest = BagCopies.TagManifestSha256(copy);
        history.Replicated(capture, place.Name, tagManifest, now);
        await store.CopyProvedAsync(capture.Id, place.Name, tagManifest, now, cancellationToken);
        log.Copied(capture.Label, place.Name);
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
