using Quartz;

namespace Station.Daemon.Alerts;

/// <summary>The timed round of the alerts.</summary>
[DisallowConcurrentExecution]
internal sealed class AlertDeliveryJob(AlertSender sender) : IJob
{
    public async ValueTask Execute(IJobExecutionContext context, CancellationToken cancellationToken) => await sender.RunAsync(cancellationToken);
}
