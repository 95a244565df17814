using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>
/// The level a groove has between its ticks in each band: the fourth lowest of the thirteen steps around each, as <see cref="GrooveLevel"/> has it for the
/// whole band. Where an envelope holds no bands, the groove band of each channel stands for them.
/// </summary>
internal sealed class BandCourse
{
    private const int HalfWindow = 6;
    private const int Rank = 3;

    private readonly byte[][] _codes;

    private BandCourse(byte[][] codes)
    {
        _codes = codes;
    }

    /// <summary>Series: bands of the sum, then of the difference.</summary>
    public int Series => _codes.Length;

    /// <summary>Steps.</summary>
    public int Steps => _codes[0].Length;

    /// <summary>Codes of <see cref="EnvelopeBands"/>, one a step.</summary>
    public ReadOnlySpan<byte> Codes(int series) => _codes[series];

    public static BandCourse Of(LevelEnvelope envelope)
    {
        if (envelope.Bands is { } bands)
        {
            return new BandCourse([.. Enumerable.Range(0, bands.Planes * EnvelopeBands.Count).Select(i => LowRank(bands.Codes(i / EnvelopeBands.Count, i % EnvelopeBands.Count)))]);
        }

        return new BandCourse([.. Enumerable.Range(0, envelope.Channels).Select(channel => LowRank(Encode(envelope.BandPower(channel))))]);
    }

    private static byte[] Encode(ReadOnlySpan<float> power)
    {
        byte[] codes = new byte[power.Length];
        for (int i = 0; i < codes.Length; i++)
        {
            codes[i] = EnvelopeBands.Code(power[i]);
        }

        return codes;
    }

    // A window that moves on by one: what leaves is taken out of the sorted values, what comes is put in.
    private static byte[] LowRank(ReadOnlySpan<byte> codes)
    {
        byte[] result = new byte[codes.Length];
        Span<byte> sorted = stackalloc byte[(2 * HalfWindow) + 1];
        int count = 0;
        for (int i = 0; i < Math.Min(HalfWindow, codes.Length); i++)
        {
            Insert(sorted, ref count, codes[i]);
        }

        for (int i = 0; i < codes.Length; i++)
        {
            if (i > HalfWindow)
            {
                Remove(sorted, ref count, codes[i - HalfWindow - 1]);
            }

            if (i + HalfWindow < codes.Length)
            {
                Insert(sorted, ref count, codes[i + HalfWindow]);
            }

            result[i] = sorted[Math.Min(Rank, count - 1)];
        }

        return result;
    }

    private static void Insert(Span<byte> sorted, ref int count, byte value)
    {
        int at = count++;
        while (at > 0 && sorted[at - 1] > value)
        {
            sorted[at] = sorted[at - 1];
            at--;
        }

        sorted[at] = value;
    }

    private static void Remove(Span<byte> sorted, ref int count, byte value)
    {
        int at = sorted[..count].IndexOf(value);
        sorted[(at + 1)..count].CopyTo(sorted[at..]);
        count--;
    }
}
