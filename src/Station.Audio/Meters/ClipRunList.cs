namespace Station.Audio.Meters;

/// <summary>Runs of one channel and polarity: exact counts, and a list that stays short and spread over the side.</summary>
internal sealed class ClipRunList(int capacity)
{
    private readonly List<ClipRun> _runs = [];
    private long _keepEvery = 1;

    public long Count { get; private set; }

    public long ClippedFrames { get; private set; }

    public IReadOnlyList<ClipRun> Runs => _runs;

    /// <summary>Whether the next run may be kept in the list; for one that is not, nothing but its length matters.</summary>
    public bool KeepsNext => Count % _keepEvery == 0;

    public void Add(in ClipRun run)
    {
        if (KeepsNext)
        {
            if (_runs.Count == capacity)
            {
                KeepEverySecond();
            }

            if (KeepsNext)
            {
                _runs.Add(run);
            }
        }

        Count++;
        ClippedFrames += run.Frames;
    }

    public void Clear()
    {
        _runs.Clear();
        _keepEvery = 1;
        Count = 0;
        ClippedFrames = 0;
    }

    private void KeepEverySecond()
    {
        int kept = 0;
        for (int i = 0; i < _runs.Count; i += 2)
        {
            _runs[kept++] = _runs[i];
        }

        _runs.RemoveRange(kept, _runs.Count - kept);
        _keepEvery *= 2;
    }
}
