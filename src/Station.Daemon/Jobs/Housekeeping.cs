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
