using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>The level a groove has between its ticks: the band-limited envelope of all channels, dB, with short bursts taken out.</summary>
/// <remarks>
/// Each value is the fourth lowest of the thirteen steps around it (0.26 s), so bursts of up to 0.18 s vanish. Quiet stretches grow by
/// <see cref="EdgeSteps"/> at either side, which <see cref="GapFinder"/> takes back.
/// </remarks>
internal sealed class GrooveLevel
{
    /// <summary>Steps by which a quiet stretch grows at each side.</summary>
    public const int EdgeSteps = HalfWindow - Rank;

    // Digital silence, in dB: far below any converter's noise, so that it behaves as a very quiet groove.
    private const double SilencePower = 1e-15;
    private const int HalfWindow = 6;
    private const int Rank = 3;

    private readonly double[] _sum;
    private readonly double[] _sumOfSquares;

    private GrooveLevel(float[] band, float[] wide)
    {
        Band = band;
        Wide = wide;
        _sum = new double[band.Length + 1];
        _sumOfSquares = new double[band.Length + 1];
        for (int i = 0; i < band.Length; i++)
        {
            _sum[i + 1] = _sum[i] + band[i];
            _sumOfSquares[i + 1] = _sumOfSquares[i] + ((double)band[i] * band[i]);
        }
    }

    /// <summary>Groove band, dB re a full-scale square, one value a step.</summary>
    public float[] Band { get; }

    /// <summary>Whole band, dB, treated the same way.</summary>
    public float[] Wide { get; }

    /// <summary>Steps.</summary>
    public int Steps => Band.Length;

    public static GrooveLevel Of(LevelEnvelope envelope) =>
        new(LowRank(Decibels(envelope, envelope.BandPower)), LowRank(Decibels(envelope, envelope.WidePower)));

    /// <summary>Mean of the band level over [from, to), dB.</summary>
    public double Mean(int from, int to) => (_sum[to] - _sum[from]) / (to - from);

    /// <summary>Standard deviation of the band level over [from, to), dB.</summary>
    public double Deviation(int from, int to)
    {
        double mean = Mean(from, to);
        return Math.Sqrt(Math.Max(0, ((_sumOfSquares[to] - _sumOfSquares[from]) / (to - from)) - (mean * mean)));
    }

    private static float[] Decibels(LevelEnvelope envelope, Func<int, ReadOnlySpan<float>> series)
    {
        double[] power = new double[envelope.Steps];
        for (int channel = 0; channel < envelope.Channels; channel++)
        {
            ReadOnlySpan<float> values = series(channel);
            for (int i = 0; i < power.Length; i++)
            {
                power[i] += values[i] / envelope.Channels;
            }
        }

        return [.. power.Select(p => (float)(10 * Math.Log10(p + SilencePower)))];
    }

    private static float[] LowRank(float[] level)
    {
        float[] result = new float[level.Length];
        Span<float> window = stackalloc float[(2 * HalfWindow) + 1];
        for (int i = 0; i < level.Length; i++)
        {
            int from = Math.Max(0, i - HalfWindow);
            int to = Math.Min(level.Length, i + HalfWindow + 1);
            Span<float> part = window[..(to - from)];
            level.AsSpan(from, to - from).CopyTo(part);
            part.Sort();
            result[i] = part[Math.Min(Rank, part.Length - 1)];
        }

        return result;
    }
}
