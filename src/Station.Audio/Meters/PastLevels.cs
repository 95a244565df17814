namespace Station.Audio.Meters;

/// <summary>The latest levels, whole decibels below full scale, and their median.</summary>
internal sealed class PastLevels(int capacity)
{
    private readonly byte[] _ring = new byte[capacity];
    private readonly int[] _counts = new int[256];
    private int _next;
    private int _median;
    private int _above;                                     // how many are louder than _median

    public int Count { get; private set; }

    /// <summary>The median, dB re full scale; meaningless when empty.</summary>
    public double MedianDb => -_median;

    public void Clear()
    {
        Array.Clear(_counts);
        Count = 0;
        _next = 0;
        _median = 0;
        _above = 0;
    }

    public void CopyFrom(PastLevels other)
    {
        other._ring.CopyTo(_ring, 0);
        other._counts.CopyTo(_counts, 0);
        (Count, _next, _median, _above) = (other.Count, other._next, other._median, other._above);
    }

    public void Add(byte level)
    {
        if (Count == capacity)
        {
            byte old = _ring[_next];
            _counts[old]--;
            _above -= old < _median ? 1 : 0;
        }
        else
        {
            Count++;
        }

        _ring[_next] = level;
        _next = _next + 1 == capacity ? 0 : _next + 1;
        _counts[level]++;
        _above += level < _median ? 1 : 0;
        int half = Count / 2;
        while (_above > half)
        {
            _above -= _counts[--_median];
        }

        while (_above + _counts[_median] <= half && _median < byte.MaxValue)
        {
            _above += _counts[_median++];
        }
    }
}
