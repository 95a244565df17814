using Microsoft.Extensions.Hosting;
using Microsoft.Extensions.Logging;
using Quartz;
using Station.Daemon.Configuration;

namespace Station.Daemon.Intake;

/// <summary>
/// Brings the next sweep forward when something happens in the inbox. A hint only: events get lost when a folder is remade or
/// remounted and on shares, and nothing depends on them.
/// </summary>
internal sealed class InboxWatcher(StationFolders folders, ISchedulerFactory schedulers, ILogger<InboxWatcher> log) : BackgroundService
{
    protected override async Task ExecuteAsync(CancellationToken stoppingToken)
    {
        IScheduler scheduler = await schedulers.GetScheduler(stoppingToken);
        using var hint = new SemaphoreSlim(0, 1);
        using FileSystemWatcher? watcher = TryWatch(hint);
        if (watcher is null)
        {
            return;
        }

        while (!stoppingToken.IsCancellationRequested)
        {
            try
            {
                await hint.WaitAsync(stoppingToken);
                await scheduler.TriggerJob(InboxSweepJob.Key, stoppingToken);
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

    private FileSystemWatcher? TryWatch(SemaphoreSlim hint)
    {
        FileSystemWatcher? watcher = null;
        try
        {
            watcher = new FileSystemWatcher(folders.Inbox) { NotifyFilter = NotifyFilters.FileName };
            watcher.Created += (_, _) => Raise();
            watcher.Renamed += (_, _) => Raise();
            watcher.Error += (_, e) =>
            {
                log.WatcherFailed(e.GetException());
                Raise();
            };
            watcher.EnableRaisingEvents = true;
            return watcher;
        }
        catch (Exception error) when (error is IOException or ArgumentException)
        {
            // Out of watches, or the folder is gone: the timed sweep does all the work.
            log.WatcherFailed(error);
            watcher?.Dispose();
            return null;
        }

        void Raise()
        {
            lock (hint)
            {
                if (hint.CurrentCount == 0)
                {
                    hint.Release();
                }
            }
        }
    }
}
