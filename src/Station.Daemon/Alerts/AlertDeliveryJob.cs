using Quartz;

namespace Station.Daemon.Alerts;

/// <summary>The timed round of the alerts.</summary>
[DisallowConcurrentExecution]
internal sealed class AlertDeliveryJob(AlertSender sender) : IJob
{
    /// <summary>How often it is meant to run.</summary>
    public static readonly TimeSpan Interval = TimeSpan.FromSeconds(1);

    public async ValueTask Execute(IJobExecutionContext context, CancellationToken cancellationToken) => await sender.RunAsync(cancellationToken);
}
