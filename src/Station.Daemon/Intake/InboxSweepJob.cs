using Quartz;

namespace Station.Daemon.Intake;

/// <summary>The timed sweep; also triggered when the inbox seems to have changed.</summary>
[DisallowConcurrentExecution]
internal sealed class InboxSweepJob(InboxSweep sweep) : IJob
{
    public static JobKey Key { get; } = new("inbox-sweep");

    public async ValueTask Execute(IJobExecutionContext context, CancellationToken cancellationToken) => await sweep.RunAsync(cancellationToken);
}
