namespace Station.Daemon.Jobs;

/// <summary>Wakes a waiting worker. A hint only: workers look at the queue by themselves as well.</summary>
internal sealed class JobSignal : IDisposable
{
    private readonly SemaphoreSlim _work = new(0, 1);
    private readonly Lock _lock = new();

    /// <summary>There may be work.</summary>
    public void Raise()
    {
        lock (_lock)
        {
            if (_work.CurrentCount == 0)
            {
                _work.Release();
            }
        }
    }

    public Task WaitAsync(CancellationToken cancellationToken) => _work.WaitAsync(cancellationToken);

    public void Dispose() => _work.Dispose();
}
