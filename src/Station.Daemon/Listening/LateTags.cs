using System.Collections.Immutable;
using Microsoft.Extensions.Logging;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Listening;

/// <summary>
/// Sheets, sleeves and further sides that come after copies were published: their jobs are queued again for names and tags. What the copies sound like is taken over, not
/// encoded again.
/// </summary>
internal sealed class LateTags(IStationStore store, CopyGuides guides, ListeningOptions options, JobSignal signal, ILogger<LateTags> log)
{
    private const int RecordsAtOnce = 100;
    private bool _toldInOrder;

    /// <summary>Looks at the records something came for. One with a job at work is left for the next look.</summary>
    /// <returns>How many jobs were queued.</returns>
    public async Task<int> LookAsync(CancellationToken cancellationToken)
    {
        int queued = 0;
        ImmutableArray<(string RecordId, long Seen)> due = await store.CopiesDueAsync(RecordsAtOnce, cancellationToken);
        if (due.IsEmpty && !_toldInOrder)
        {
            log.CopiesInOrder();
        }

        _toldInOrder = due.IsEmpty;
        foreach ((string record, long seen) in due)
        {
            cancellationToken.ThrowIfCancellationRequested();
            if (await IsAtWorkAsync(record, cancellationToken))
            {
                continue;
            }

            int now = await QueueAsync(record, cancellationToken);
            queued += now;
            if (now == 0)
            {
                await store.CopiesLookedAtAsync(record, seen, cancellationToken);
            }
        }

        if (queued > 0)
        {
            signal.Raise();
        }

        return queued;
    }

    private async Task<int> QueueAsync(string record, CancellationToken cancellationToken)
    {
        int count = 0;
        foreach (JobId id in (await store.PublishedSidesAsync(record, cancellationToken)).Select(s => s.Job).Distinct())
        {
            if (await store.JobAsync(id, cancellationToken) is not { State: JobState.Done } job || job.Encoded() is not { } encoded)
            {
                continue;
            }

            try
            {
                CopyGuide guide = await guides.FindAsync(job, ImmutableDictionary<string, SideProgramme>.Empty, cancellationToken);
                if (encoded.Guide != guide.Mark(options))
                {
                    await store.PublishAgainAsync(id, cancellationToken);
                    log.TaggedAgain(job.Capture.Label);
                    count++;
                }
            }
            catch (JobStateException)
            {
                count++;        // somebody has it: looked at again when it is done
            }
            catch (InvalidDataException unreadable)
            {
                log.TagsUnreadable(job.Capture.Label, unreadable.Message);
            }
        }

        return count;
    }

    private async Task<bool> IsAtWorkAsync(string record, CancellationToken cancellationToken) =>
        !(await store.JobsAsync(new JobQuery(Limit: 1, State: JobState.Running, RecordId: record), cancellationToken)).IsEmpty
        || !(await store.JobsAsync(new JobQuery(Limit: 1, State: JobState.Queued, RecordId: record), cancellationToken)).IsEmpty;
}
