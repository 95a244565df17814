namespace Station.Audio.Meters;

/// <summary>Impulses fainter than a tick, and the ticks: too many and too doubtful to count, but a row of them once per turn is a scratch. Five bytes each.</summary>
internal sealed class FaintTicks
{
    // Half decibels below full scale.
    private const int CodesPerDb = 2;

    private readonly List<uint> _places = new(1024);
    private readonly List<byte> _peaks = new(1024);

    /// <summary>Most that are kept: at one per 20 ms 87 minutes, more than twice the longest side, at the three a second of usual music a day. Later ones are left out.</summary>
    public const int Capacity = 1 << 18;

    /// <summary>Places per second.</summary>
    public const int PlacesPerSecond = 10_000;

    /// <summary>How many there are.</summary>
    public int Count => _places.Count;

    /// <summary>Adds one.</summary>
    /// <param name="seconds">Where; not before the last one.</param>
    /// <param name="height">How far the wave leaves its course, full scale 1.</param>
    public void Add(double seconds, float height)
    {
        double place = Math.Round(seconds * PlacesPerSecond);
        if (_places.Count < Capacity && place is >= 0 and <= uint.MaxValue)
        {
            _places.Add((uint)place);
            _peaks.Add((byte)Math.Clamp(Math.Round(-CodesPerDb * 20 * Math.Log10(Math.Max(height, 1e-7f))), 0, 255));
        }
    }

    /// <summary>Where one is, seconds from the first frame, to 0.1 ms.</summary>
    public double SecondsAt(int index) => _places[index] / (double)PlacesPerSecond;

    /// <summary>How strong one is, dBFS, −127.5 to 0.</summary>
    public double PeakDbfs(int index) => -_peaks[index] / (double)CodesPerDb;
}
