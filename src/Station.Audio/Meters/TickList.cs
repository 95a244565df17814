namespace Station.Audio.Meters;

/// <summary>Ticks in order: an exact count, and a list that stays short and spread over the side.</summary>
internal sealed class TickList
{
    private readonly List<Tick> _ticks = new(1024);

    /// <summary>Most ticks that are listed: 18 hours of a used disc, 20 minutes of the worst crackle.</summary>
    public const int Capacity = 32_768;

    /// <summary>All ticks, those not listed included.</summary>
    public long Count { get; private set; }

    /// <summary>One tick in so many is listed; a power of two.</summary>
    public int KeptEvery { get; private set; } = 1;

    /// <summary>Those that are listed.</summary>
    public IReadOnlyList<Tick> Ticks => _ticks;

    /// <summary>Adds a tick.</summary>
    public void Add(in Tick tick)
    {
        if (Count % KeptEvery == 0)
        {
            if (_ticks.Count == Capacity)
            {
                KeepEverySecond();
            }

            if (Count % KeptEvery == 0)
            {
                _ticks.Add(tick);
            }
        }

        Count++;
    }

    private void KeepEverySecond()
    {
        int kept = 0;
        for (int i = 0; i < _ticks.Count; i += 2)
        {
            _ticks[kept++] = _ticks[i];
        }

        _ticks.RemoveRange(kept, _ticks.Count - kept);
        KeptEvery *= 2;
    }
}
