using System.Collections.Concurrent;
using System.Collections.Immutable;
using Microsoft.Extensions.Logging;
using Station.Audio.Findings;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Jobs;

/// <summary>
/// Sheets and cue sheets that come after the capture: a take that waits for a person because of its division is divided again. Jobs in the queue need
/// nothing: each looks, when it is claimed, whether its division still goes by what the operator says now. Takes that are published stay as they are.
/// </summary>
internal sealed class LateGuides(IStationStore store, GuideShelf guides, JobSignal signal, ILogger<LateGuides> log)
{
    private const int PageSize = 500;

    // Records with a job at work when something came: it may have been divided just before and be held just after.
    private readonly ConcurrentDictionary<string, bool> _again = new(StringComparer.OrdinalIgnoreCase);

    // A stop may have come between a sheet and its effect: the first timed look is at every held take.
    private bool _looksAtAll = true;

    /// <summary>Something new is known about a record: its held takes are looked at, now and until none of them is at work.</summary>
    /// <returns>How many are divided again.</returns>
    public async Task<int> LookAsync(string recordId, CancellationToken cancellationToken)
    {
        // First this, then the held ones: a job that comes to be held in between is seen by the second question.
        bool atWork = !(await store.JobsAsync(new JobQuery(Limit: 1, State: JobState.Running, RecordId: recordId), cancellationToken)).IsEmpty;
        if (atWork)
        {
            _again[recordId] = true;
        }
        else
        {
            _again.TryRemove(recordId, out _);
        }

        return await DivideAgainAsync(recordId, cancellationToken);
    }

    /// <summary>Looks again at the records that had a job at work; the first time after a start at every held take.</summary>
    public async Task<int> LookAgainAsync(CancellationToken cancellationToken)
    {
        int count = 0;
        if (_looksAtAll)
        {
            count += await DivideAgainAsync(recordId: null, cancellationToken);
            _looksAtAll = false;
        }

        foreach (string record in _again.Keys)
        {
            count += await LookAsync(record, cancellationToken);
        }

        return count;
    }

    /// <summary>True when a held take may come out otherwise by what is known now. A retake has to be played again however it is divided.</summary>
    public static bool IsWorthDividing(Job job, DivisionGuides now) =>
        job is { State: JobState.Held, Verdict: Verdict.Review } && job.Divided() is { } divided && divided.GuidedBy != now.Mark
        && (now.Cue is not null || divided.Findings.Any(f => f.Severity != Severity.Note));

    private async Task<int> DivideAgainAsync(string? recordId, CancellationToken cancellationToken)
    {
        int count = 0;
        JobId? before = null;
        while (true)
        {
            ImmutableArray<Job> held = await store.JobsAsync(new JobQuery(before, PageSize, JobState.Held, recordId), cancellationToken);
            foreach (Job job in held)
            {
                count += await TryAsync(job, cancellationToken) ? 1 : 0;
            }

            if (held.Length < PageSize)
            {
                break;
            }

            before = held[^1].Id;
        }

        if (count > 0)
        {
            signal.Raise();
        }

        return count;
    }

    private async Task<bool> TryAsync(Job job, CancellationToken cancellationToken)
    {
        try
        {
            if (!IsWorthDividing(job, await guides.FindAsync(job.Capture, cancellationToken)))
            {
                return false;
            }

            await store.DivideAgainAsync(job.Id, cancellationToken);
            log.DividedAgain(job.Capture.Label);
            return true;
        }
        catch (JobStateException)
        {
            return false;       // the operator decided meanwhile
        }
        catch (InvalidDataException unreadable)
        {
            log.GuidesUnreadable(job.Capture.Label, unreadable.Message);
            return false;
        }
    }
}
