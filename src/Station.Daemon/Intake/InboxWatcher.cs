using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Logging;
using Quartz;

namespace Station.Daemon.Intake;

/// <summary>Brings the next sweep forward when something happens in the inbox.</summary>
internal sealed class InboxWatcher(InboxHints hints, ISchedulerFactory schedulers, TimeProvider clock, ILogger<InboxWatcher> log) : BackgroundService
{
    /// <summary>Between two sweeps brought forward: thousands of files dropped at once are one reason to look, not thousands.</summary>
    private static readonly TimeSpan LeastPause = TimeSpan.FromMilliseconds(100);

    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        IScheduler scheduler = await schedulers.GetScheduler(stoppingToken);
        while (!stoppingToken.IsCancellationRequested)
        {
            try
            {
                await hints.WaitAsync(stoppingToken);
                await scheduler.TriggerJob(InboxSweepJob.Key, stoppingToken);
                await Task.Delay(LeastPause, clock, stoppingToken);
            }
            catch (OperationCanceledException) when (stoppingToken.IsCancellationRequested)
            {
                return;
            }
            catch (SchedulerException error)
            {
                log.HintFailed(error);
            }
        }
    }
}
