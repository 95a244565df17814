using Quartz;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Listening;

/// <summary>Looks for captures that were filed elsewhere and then came to nothing there: nobody publishes them any more, so their former copies go now.</summary>
[DisallowConcurrentExecution]
internal sealed class FormerCopiesJob(IStationStore store, FormerCopies copies) : IJob
{
    public static readonly TimeSpan Interval = TimeSpan.FromMinutes(1);

    public async ValueTask Execute(IJobExecutionContext context, CancellationToken cancellationToken)
    {
        foreach (Identification open in await store.IdentificationsAsync(job: null, openOnly: true, cancellationToken))
        {
            if (await store.JobAsync(open.JobId, cancellationToken) is { State: JobState.Discarded or JobState.Superseded or JobState.Refused or JobState.Duplicate } job)
            {
                await copies.WithdrawAsync(job, cancellationToken);
            }
        }
    }
}
