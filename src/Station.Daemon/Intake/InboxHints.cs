using Microsoft.Extensions.Logging;
using Station.Archive.Durability;
using Station.Daemon.Configuration;

namespace Station.Daemon.Intake;

/// <summary>
/// Change events from the inbox, as a hint that a sweep is worth while. They get lost when many come at once and on shares, and end when the folder
/// is remade or remounted: each sweep says which folder it saw, and the watch is made anew for another one. Nothing depends on them.
/// </summary>
internal sealed class InboxHints : IDisposable
{
    /// <summary>How long after a failed try to watch the next one is made.</summary>
    public static readonly TimeSpan RetryAfter = TimeSpan.FromMinutes(1);

    private readonly TimeProvider _clock;
    private readonly ILogger<InboxHints> _log;
    private readonly Func<FileSystemWatcher> _make;
    private readonly SemaphoreSlim _hint = new(0, 1);
    private readonly Lock _gate = new();
    private FileSystemWatcher? _watcher;
    private FolderId? _watched;
    private long? _failedAt;
    private volatile bool _broken;

    public InboxHints(StationFolders folders, TimeProvider clock, ILogger<InboxHints> log)
        : this(() => new FileSystemWatcher(folders.Inbox) { NotifyFilter = NotifyFilters.FileName }, clock, log)
    {
    }

    /// <param name="make">Makes a watcher, or fails as the platform's does: out of watches, no such folder.</param>
    internal InboxHints(Func<FileSystemWatcher> make, TimeProvider clock, ILogger<InboxHints> log)
    {
        _make = make;
        _clock = clock;
        _log = log;
    }

    public bool IsWatching => _watcher is not null;

    /// <summary>Waits for something to happen in the inbox.</summary>
    public Task WaitAsync(CancellationToken cancellationToken) => _hint.WaitAsync(cancellationToken);

    /// <summary>Makes sure that the folder a sweep has just seen is the one that is watched. Never fails: without a watch the timed sweep does all the work.</summary>
    public void Follow(FileFacts folder)
    {
        FolderId id = FolderId.Of(folder);
        if (_watcher is not null && _watched == id && !_broken)
        {
            return;
        }

        if (_watched == id && _failedAt is { } failed && _clock.GetElapsedTime(failed) < RetryAfter)
        {
            return;
        }

        Stop();
        _watched = id;
        Start();
    }

    /// <summary>The inbox is gone: what was watched is nobody's inbox any more.</summary>
    public void Stop()
    {
        _watcher?.Dispose();
        _watcher = null;
        _watched = null;
        _broken = false;
    }

    public void Dispose()
    {
        Stop();
        _hint.Dispose();
    }

    private void Start()
    {
        FileSystemWatcher? watcher = null;
        try
        {
            watcher = _make();
            watcher.Created += (_, _) => Raise();
            watcher.Renamed += (_, _) => Raise();
            watcher.Error += (_, _) =>
            {
                // Too many events at once, or the watch is gone: sweep, which makes it anew.
                _broken = true;
                Raise();
            };
            watcher.EnableRaisingEvents = true;
            _watcher = watcher;
            _failedAt = null;
        }
        catch (Exception error) when (error is IOException or ArgumentException or UnauthorizedAccessException)
        {
            if (_failedAt is null)
            {
                _log.WatcherFailed(error);
            }

            _failedAt = _clock.GetTimestamp();
            watcher?.Dispose();
        }
    }

    private void Raise()
    {
        lock (_gate)
        {
            if (_hint.CurrentCount == 0)
            {
                _hint.Release();
            }
        }
    }
}
