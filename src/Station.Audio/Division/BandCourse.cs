using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>
/// The level a groove has between its ticks in each band: the fourth lowest of the thirteen steps around each, as <see cref="GrooveLevel"/> has it for the
/// whole band. Where an envelope holds no bands, the groove band of each channel stands for them. Only differences of levels mean anything.
/// </summary>
internal sealed class BandCourse
{
    private const int HalfWindow = 6;
    private const int Rank = 3;

    // −200 dB stands for silence.
    private const double SilencePower = 1e-20;

    private readonly short[][] _levels;

    private BandCourse(short[][] levels)
    {
        _levels = levels;
    }

    /// <summary>Decibels of one unit of <see cref="Levels"/>.</summary>
    public const float UnitDb = 0.01f;

    /// <summary>Series: bands of the sum, then of the difference.</summary>
    public int Series => _levels.Length;

    /// <summary>Steps.</summary>
    public int Steps => _levels[0].Length;

    /// <summary>Levels in hundredths of a decibel, one a step.</summary>
    public short[] Levels(int series) => _levels[series];

    /// <param name="envelope">Of the side.</param>
    /// <param name="level">The same between ticks: the groove band as a whole goes lower than the bands do, and bass may be all there is of a soft start.</param>
    public static BandCourse Of(LevelEnvelope envelope, GrooveLevel level)
    {
        if (envelope.Bands is { } bands)
        {
            return new BandCourse(
            [
                .. Enumerable.Range(0, bands.Planes * EnvelopeBands.Count).Select(i => LowRank(Of(bands, i / EnvelopeBands.Count, i % EnvelopeBands.Count))),
                [.. level.Band.Select(db => (short)Math.Round(db / UnitDb))],
            ]);
        }

        return new BandCourse([.. Enumerable.Range(0, envelope.Channels).Select(channel => LowRank(Of(envelope.BandPower(channel))))]);
    }

    private static short[] Of(EnvelopeBands bands, int plane, int band)
    {
        // Counted from code 0, whatever level that stands for: the same side recorded louder has the same differences to the last digit.
        const short CodeUnits = (short)(EnvelopeBands.CodeDb / UnitDb);
        ReadOnlySpan<byte> codes = bands.Codes(plane, band);
        short[] levels = new short[codes.Length];
        for (int i = 0; i < levels.Length; i++)
        {
            levels[i] = (short)(CodeUnits * codes[i]);
        }

        return levels;
    }

    private static short[] Of(ReadOnlySpan<float> power)
    {
        short[] levels = new short[power.Length];
        for (int i = 0; i < levels.Length; i++)
        {
            levels[i] = (short)Math.Round(10 * Math.Log10(power[i] + SilencePower) / UnitDb);
        }

        return levels;
    }

    // A window that moves on by one: what leaves is taken out of the sorted values, what comes is put in.
    private static short[] LowRank(ReadOnlySpan<short> levels)
    {
        short[] result = new short[levels.Length];
        Span<short> sorted = stackalloc short[(2 * HalfWindow) + 1];
        int count = 0;
        for (int i = 0; i < Math.Min(HalfWindow, levels.Length); i++)
        {
            Insert(sorted, ref count, levels[i]);
        }

        for (int i = 0; i < levels.Length; i++)
        {
            if (i > HalfWindow)
            {
                Remove(sorted, ref count, levels[i - HalfWindow - 1]);
            }

            if (i + HalfWindow < levels.Length)
            {
                Insert(sorted, ref count, levels[i + HalfWindow]);
            }

            result[i] = sorted[Math.Min(Rank, count - 1)];
        }

        return result;
    }

    private static void Insert(Span<short> sorted, ref int count, short value)
    {
        int at = count++;
        while (at > 0 && sorted[at - 1] > value)
        {
            sorted[at] = sorted[at - 1];
            at--;
        }

        sorted[at] = value;
    }

    private static void Remove(Span<short> sorted, ref int count, short value)
    {
        int at = sorted[..count].IndexOf(value);
        sorted[(at + 1)..count].CopyTo(sorted[at..]);
        count--;
    }
}
