namespace Station.Audio.Meters;

/// <summary>Powers in time order, each kept as hundredths of a decibel in two bytes; room is made ahead where the number is known.</summary>
/// <remarks>−200 dB stands for everything at or below it, silence included; +127 dB for everything at or above.</remarks>
internal sealed class DecibelSeries(int expected)
{
    /// <summary>What silence reads, dB.</summary>
    public const double SilenceDb = -200;

    private const double MaxDb = 127;

    private short[] _values = new short[Math.Max(16, expected)];

    public int Count { get; private set; }

    /// <summary>The level of one value, dB.</summary>
    public double this[int index] => _values[index] / 100.0;

    /// <summary>Adds a power; 0 and up.</summary>
    public void Add(double power)
    {
        if (Count == _values.Length)
        {
            Array.Resize(ref _values, _values.Length * 2);
        }

        double db = power > 1e-20 ? Math.Min(MaxDb, 10 * Math.Log10(power)) : SilenceDb;
        _values[Count++] = (short)Math.Round(100 * db);
    }
}
