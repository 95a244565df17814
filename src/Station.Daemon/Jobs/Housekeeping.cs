using Microsoft.Extensions.Logging;
using Quartz;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Jobs;

/// <summary>Wakes the workers for jobs that became due by time.</summary>
[DisallowConcurrentExecution]
internal sealed class WakeWorkersJob(JobSignal signal) : IJob
{
    public ValueTask Execute(IJobExecutionContext context, CancellationToken cancellationToken)
    {
        signal.Raise();
        return ValueTask.CompletedTask;
    }
}

/// <summary>Puts jobs whose claim lapsed back into the queue: their worker hangs or is gone.</summary>
[DisallowConcurrentExecution]
internal sealed class LapsedClaimsJob(IStationStore store, JobSignal signal, TimeProvider clock, ILogger<LapsedClaimsJob> log) : IJob
{
    public async ValueTask Execute(IJobExecutionContext context, CancellationToken cancellationToken)
    {
        int count = await store.RequeueAbandonedAsync(everyOwner: false, clock.GetUtcNow(), cancellationToken);
        if (count > 0)
        {
            log.Requeued(count);
            signal.Raise();
        }
    }
}

/// <summary>Removes discarded takes after their time in held/discarded/.</summary>
[DisallowConcurrentExecution]
internal sealed class RemoveDiscardedJob(IStationStore store, StationFolders folders, JobsOptions options, TimeProvider clock, ILogger<RemoveDiscardedJob> log) : IJob
{
    public async ValueTask Execute(IJobExecutionContext context, CancellationToken cancellationToken)
    {
        foreach (Job job in await store.DiscardedBeforeAsync(clock.GetUtcNow() - TimeSpan.FromDays(options.DiscardedDays), cancellationToken))
        {
            string folder = Path.Combine(folders.Discarded, job.Capture.Label);
            if (Directory.Exists(folder))
            {
                DurableFile.DeleteFolder(folder);
            }

            await store.DiscardedRemovedAsync(job.Id, cancellationToken);
            log.DiscardedRemoved(job.Capture.Label);
        }
    }
}

/// <summary>Lets dropped files go whose bags have enough proved copies by now, though their jobs ended or were held before.</summary>
[DisallowConcurrentExecution]
internal sealed class ReleaseCapturesJob(IStationStore store, CaptureMover mover, StationFolders folders, CopyPlaces places, ILogger<ReleaseCapturesJob> log) : IJob
{
    private const int AtATime = 100;

    public async ValueTask Execute(IJobExecutionContext context, CancellationToken cancellationToken) => await ReleaseAsync(cancellationToken);

    /// <summary>One round.</summary>
    public async Task ReleaseAsync(CancellationToken cancellationToken)
    {
        foreach (Job job in await store.UnreleasedAsync(places, AtATime, cancellationToken))
        {
            cancellationToken.ThrowIfCancellationRequested();
            if (job.Archived() is not { } archived || job.PendingMove is not null)
            {
                continue;       // its next run puts that right first
            }

            try
            {
                string location = job.Capture.Location;
                mover.Unlink(job.Capture, folders.Absolute(archived.Bag), job.Inspected()?.Dropped);
                await store.ReleasedAsync(job.Capture.Id, location, cancellationToken);
                RemoveEmpty(Path.GetDirectoryName(folders.Absolute(location))!);
                log.Released(job.Capture.Label);
            }
            catch (IOException error)
            {
                log.NotReleased(job.Capture.Label, error.Message);      // tried again in the next round; the others go on
            }
        }
    }

    /// <summary>The job's working folder goes with the last thing in it; a held folder keeps its report.</summary>
    private void RemoveEmpty(string folder)
    {
        string job = Path.GetDirectoryName(folder)!;
        if (Path.GetDirectoryName(job) == folders.Working && Directory.Exists(folder) && !Directory.EnumerateFileSystemEntries(folder).Any())
        {
            DurableFile.DeleteFolder(job);
        }
    }
}
