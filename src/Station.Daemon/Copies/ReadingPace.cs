namespace Station.Daemon.Copies;

/// <summary>Slows a reader down to so many bytes a second by waiting after a block that came too early. Waits are short, and end at once when the token fires.</summary>
internal sealed class ReadingPace(double bytesPerSecond, TimeProvider clock, CancellationToken cancellationToken) : IProgress<long>
{
    /// <summary>Shorter waits are saved up: a timer is no finer.</summary>
    private static readonly TimeSpan ShortestWait = TimeSpan.FromMilliseconds(20);

    private readonly long _started = clock.GetTimestamp();
    private long _bytes;

    /// <summary>How far the reading is ahead of its pace.</summary>
    public TimeSpan Ahead => TimeSpan.FromSeconds(_bytes / bytesPerSecond) - clock.GetElapsedTime(_started);

    public void Report(long value)
    {
        _bytes += value;
        if (Ahead is var ahead && ahead >= ShortestWait)
        {
            using var over = new ManualResetEventSlim();
            using ITimer timer = clock.CreateTimer(_ => over.Set(), state: null, ahead, Timeout.InfiniteTimeSpan);
            over.Wait(cancellationToken);
        }
    }
}
