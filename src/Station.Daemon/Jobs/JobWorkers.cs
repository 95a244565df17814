using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Logging;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Jobs;

/// <summary>
/// Claims jobs and runs them, <see cref="JobsOptions.Parallel"/> at a time, renewing each claim while it works. Woken by
/// <see cref="JobSignal"/>: intake raises it, and a timed job does so regularly for what becomes due.
/// </summary>
internal sealed class JobWorkers(
    IStationStore store, JobRunner runner, JobSignal signal, JobsOptions options, TimeProvider clock, ILogger<JobWorkers> log) : BackgroundService
{
    private static readonly TimeSpan QueueErrorWait = TimeSpan.FromSeconds(5);

    private readonly string _owner = $"{Environment.MachineName}/{Environment.ProcessId}";

    /// <summary>The lanes; each runs one job at a time.</summary>
    protected override Task ExecuteAsync(CancellationToken stoppingToken) =>
        Task.WhenAll(Enumerable.Range(0, options.Parallel).Select(n => Task.Run(() => LaneAsync($"{_owner}/{n}", stoppingToken), stoppingToken)));

    private async Task LaneAsync(string owner, CancellationToken stoppingToken)
    {
        while (!stoppingToken.IsCancellationRequested)
        {
            try
            {
                if (await store.ClaimAsync(owner, clock.GetUtcNow(), TimeSpan.FromSeconds(options.LeaseSeconds), stoppingToken) is { } job)
                {
                    signal.Raise();     // another lane may find work too
                    await RunAsync(job, stoppingToken);
                }
                else
                {
                    await signal.WaitAsync(stoppingToken);
                }
            }
            catch (OperationCanceledException) when (stoppingToken.IsCancellationRequested)
            {
                return;
            }
            catch (LostLeaseException)
            {
                // Said where it was noticed; the next claim decides what follows.
            }
            catch (Exception error)
            {
                // Whatever it is: the lane goes on, for the other jobs' sake. The job's claim lapses, and its crashes are counted.
                log.QueueFailed(error, QueueErrorWait.TotalSeconds);
                await Task.Delay(QueueErrorWait, clock, stoppingToken).ConfigureAwait(ConfigureAwaitOptions.SuppressThrowing);
            }
        }
    }

    private async Task RunAsync(Job job, CancellationToken stoppingToken)
    {
        using var lost = CancellationTokenSource.CreateLinkedTokenSource(stoppingToken);
        using var finished = new CancellationTokenSource();
        Task renewing = RenewAsync(job, lost, finished.Token);
        try
        {
            await runner.RunAsync(job, lost.Token);
        }
        catch (LostLeaseException)
        {
            log.LeaseLost(job.Capture.Label);
            throw;
        }
        finally
        {
            await finished.CancelAsync();
            await renewing;
        }
    }

    private async Task RenewAsync(Job job, CancellationTokenSource lost, CancellationToken finished)
    {
        TimeSpan lease = TimeSpan.FromSeconds(options.LeaseSeconds);
        using var timer = new PeriodicTimer(lease / 3, clock);
        try
        {
            while (await timer.WaitForNextTickAsync(finished))
            {
                if (!await store.RenewAsync(job, clock.GetUtcNow() + lease, finished))
                {
                    log.LeaseLost(job.Capture.Label);
                    await lost.CancelAsync();
                    return;
                }
            }
        }
        catch (OperationCanceledException) when (finished.IsCancellationRequested)
        {
            // The job ended; nothing to renew.
        }
        catch (Exception error) when (error is Microsoft.Data.Sqlite.SqliteException or IOException)
        {
            log.QueueFailed(error, 0);     // the claim lapses by itself when this goes on; the fence then throws the work away
        }
    }
}
