namespace Station.Audio.Meters;

/// <summary>Places of flat tops: high ones are kept first, and of too many every second.</summary>
internal sealed class FlatTopList
{
    // 8192 places are 128 kB.
    private const int Capacity = 8192;

    // The ceiling is the highest level at which flat tops crowd: what lies 1 dB below the highest goes first when room is needed.
    private const float KeptBelowHighest = 0.89f;

    private readonly List<FlatTop> _places = [];
    private float _highest;
    private long _keepEvery = 1;
    private long _count;

    public IReadOnlyList<FlatTop> Places => _places;

    public void Add(in FlatTop top)
    {
        _highest = Math.Max(_highest, top.Level);
        if (_count++ % _keepEvery != 0)
        {
            return;
        }

        if (_places.Count == Capacity)
        {
            float least = KeptBelowHighest * _highest;
            _places.RemoveAll(place => place.Level < least);
            if (_places.Count > Capacity / 2)
            {
                int kept = 0;
                for (int i = 0; i < _places.Count; i += 2)
                {
                    _places[kept++] = _places[i];
                }

                _places.RemoveRange(kept, _places.Count - kept);
                _keepEvery *= 2;
            }
        }

        _places.Add(top);
    }
}
