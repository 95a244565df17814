using System.Collections.Concurrent;
using System.Collections.Immutable;
using Microsoft.Extensions.Logging;
using Station.Audio.Findings;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Jobs;

/// <summary>
/// Sheets and cuts that come after the capture. A take that waits for a person because of its division is divided again, and so is one that is in force when a person
/// fixed its cuts, or when the sheet lists another number of tracks than it did and nobody fixed them. Jobs in the queue need nothing: each looks, when
/// it is claimed, whether its division still goes by what the operator says now.
/// </summary>
internal sealed class LateGuides(IStationStore store, GuideShelf guides, DivisionNews news, JobSignal signal, ILogger<LateGuides> log)
{
    private const int PageSize = 500;

    // Records with a job at work when something came: it may have been divided just before and be held or done just after.
    private readonly ConcurrentDictionary<string, bool> _again = new(StringComparer.OrdinalIgnoreCase);

    // A stop may have come between a sheet and its effect: the first timed look is at every held take, and at the records that had a job at work.
    private bool _looksAtAll = true;

    /// <summary>Something new is known about a record: its takes are looked at, now and until none of them is at work.</summary>
    /// <returns>How many are divided again.</returns>
    public async Task<int> LookAsync(string recordId, CancellationToken cancellationToken)
    {
        // First this, then the others: a job that ends in between is seen by the second question.
        ImmutableArray<StoredCue> open = await store.OpenCuesAsync(recordId, untoldOnly: false, cancellationToken);
        bool atWork = await HasAsync(recordId, JobState.Running, cancellationToken) || await HasAsync(recordId, JobState.Queued, cancellationToken);
        if (atWork)
        {
            _again[recordId] = true;
        }
        else
        {
            _again.TryRemove(recordId, out _);
        }

        int count = await DivideAgainAsync(recordId, JobState.Held, cancellationToken) + await DivideAgainAsync(recordId, JobState.Done, cancellationToken);

        // A job that was set aside may be tried again, and go on from tracks that were cut before.
        foreach (StoredCue cue in open.IsEmpty || atWork || await HasAsync(recordId, JobState.Failed, cancellationToken) ? [] : open)
        {
            await store.CueSettledAsync(cue, cancellationToken);
        }

        return count;
    }

    /// <summary>What was said about cuts just before a stop is carried out: at a start, before anything is worked on.</summary>
    public async Task<int> LookAtOpenAsync(CancellationToken cancellationToken)
    {
        int count = 0;
        ImmutableArray<StoredCue> open = await store.OpenCuesAsync(recordId: null, untoldOnly: false, cancellationToken);
        foreach (string record in open.Select(c => c.RecordId).Distinct(StringComparer.OrdinalIgnoreCase))
        {
            count += await LookAsync(record, cancellationToken);
        }

        return count;
    }

    /// <summary>Looks again at the records that had a job at work, and at what was said about cuts and not carried out; the first time after a start at every held take.</summary>
    public async Task<int> LookAgainAsync(CancellationToken cancellationToken)
    {
        int count = 0;
        await news.TellAllAsync(cancellationToken);
        if (_looksAtAll)
        {
            foreach (Job queued in await AllAsync(recordId: null, JobState.Queued, cancellationToken))
            {
                _again[queued.Capture.RecordId] = true;
            }

            count += await DivideAgainAsync(recordId: null, JobState.Held, cancellationToken);
            _looksAtAll = false;
        }

        foreach (string record in _again.Keys)
        {
            count += await LookAsync(record, cancellationToken);
        }

        return count + await LookAtOpenAsync(cancellationToken);
    }

    /// <summary>
    /// True when a take may come out otherwise by what is known now. A retake has to be played again however it is divided. A take that is in force is
    /// divided again for a person's cuts, set or taken back, and for another number of tracks in the sheet: what a person fixed, no sheet moves.
    /// </summary>
    public static bool IsWorthDividing(Job job, DivisionGuides now)
    {
        if (job.Divided() is not { } divided || divided.GuidedBy == now.Mark)
        {
            return false;
        }

        return job.State switch
        {
            JobState.Held => job.Verdict == Verdict.Review
                && (now.Cue is not null || divided.FixedBy is not null || divided.Findings.Concat(divided.InspectedFindings ?? []).Any(f => f.Severity != Severity.Note)),
            JobState.Done => job.Leads && job.CurrentTakes.Any(t => t.State == TakeState.Accepted)
                && (divided.FixedBy != now.FixedMark || (now.Cue is null && IsListedOtherwise(divided, now))),
            _ => false,
        };
    }

    /// <summary>The sheet lists tracks for a side, and another number than when the take was divided (or than were cut, where that wasn't noted).</summary>
    private static bool IsListedOtherwise(DivideResult divided, DivisionGuides now)
    {
        ImmutableArray<int> then = divided.Listed ?? [];
        return now.Listed.Where((count, i) => count > 0 && count != (i < then.Length ? then[i] : divided.Tracks.Length)).Any();
    }

    private async Task<bool> HasAsync(string recordId, JobState state, CancellationToken cancellationToken) =>
        !(await store.JobsAsync(new JobQuery(Limit: 1, State: state, RecordId: recordId), cancellationToken)).IsEmpty;

    private async Task<int> DivideAgainAsync(string? recordId, JobState state, CancellationToken cancellationToken)
    {
        int count = 0;
        foreach (Job job in await AllAsync(recordId, state, cancellationToken))
        {
            count += await TryAsync(job, cancellationToken) ? 1 : 0;
        }

        if (count > 0)
        {
            signal.Raise();
        }

        return count;
    }

    private async Task<ImmutableArray<Job>> AllAsync(string? recordId, JobState state, CancellationToken cancellationToken)
    {
        var all = ImmutableArray.CreateBuilder<Job>();
        JobId? before = null;
        while (true)
        {
            ImmutableArray<Job> page = await store.JobsAsync(new JobQuery(before, PageSize, state, recordId), cancellationToken);
            all.AddRange(page);
            if (page.Length < PageSize)
            {
                return all.ToImmutable();
            }

            before = page[^1].Id;
        }
    }

    private async Task<bool> TryAsync(Job job, CancellationToken cancellationToken)
    {
        try
        {
            if (!IsWorthDividing(job, await guides.FindAsync(job, cancellationToken)))
            {
                return false;
            }

            await store.DivideAgainAsync(job.Id, cancellationToken);
            log.DividedAgain(job.Capture.Label);
            return true;
        }
        catch (JobStateException)
        {
            return false;       // somebody decided meanwhile, or a worker has it
        }
        catch (InvalidDataException unreadable)
        {
            log.GuidesUnreadable(job.Capture.Label, unreadable.Message);
            return false;
        }
    }
}
