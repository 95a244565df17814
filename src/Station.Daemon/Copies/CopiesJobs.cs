using Quartz;
using Station.Daemon.Jobs;

namespace Station.Daemon.Copies;

/// <summary>The timed look at one replica; the name of the place is the job's data. As often as the shortest wait between two tries; the keeper says what is due.</summary>
[DisallowConcurrentExecution]
internal sealed class ReplicaJob(CopyKeepers keepers) : IJob
{
    public static readonly TimeSpan Interval = FailurePolicy.FirstWait;

    public async ValueTask Execute(IJobExecutionContext context, CancellationToken cancellationToken) =>
        await Task.Run(() => keepers.Replica(context.MergedJobDataMap.GetString(CopiesRegistration.Place)!).LookAsync(cancellationToken), cancellationToken);
}

/// <summary>The timed round of the audit of one place.</summary>
[DisallowConcurrentExecution]
internal sealed class AuditJob(CopyKeepers keepers) : IJob
{
    public static readonly TimeSpan Interval = TimeSpan.FromMinutes(1);

    public async ValueTask Execute(IJobExecutionContext context, CancellationToken cancellationToken) =>
        await Task.Run(() => keepers.Audit(context.MergedJobDataMap.GetString(CopiesRegistration.Place)!).RunAsync(cancellationToken), cancellationToken);
}
