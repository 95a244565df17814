namespace Station.Audio.Meters;

/// <summary>
/// The course of the spectrum in steps of 20 ms: the level of sum and difference of the channels in bands of about half an octave, half a decibel fine,
/// a byte each. 1.1 kB a second of stereo.
/// </summary>
/// <remarks>
/// Sum and difference rather than left and right: music is mostly in the sum, groove noise as much or more in the difference. Scaled so that the powers of
/// the two add up to those of the channels, halved. Codes count from a level that goes with the recording level (<see cref="OffsetDb"/>): the same side recorded
/// louder has the same codes, all so much higher, and not other rounding.
/// </remarks>
public sealed class EnvelopeBands
{
    /// <summary>Bands.</summary>
    public const int Count = 11;

    /// <summary>Level of code 0 and of everything below, less <see cref="OffsetDb"/>, dB re a full-scale square.</summary>
    public const double LowestDb = -122;

    /// <summary>Decibels from one code to the next.</summary>
    public const double CodeDb = 0.5;

    private readonly byte[][] _series;

    internal EnvelopeBands(byte[][] series, float offsetDb)
    {
        _series = series;
        OffsetDb = offsetDb;
    }

    /// <summary>Where the codes count from: added to <see cref="LowestDb"/>, dB, 0 to less than <see cref="CodeDb"/>.</summary>
    public float OffsetDb { get; }

    /// <summary>Edges of the bands, Hz, ascending; one more than there are bands. Own choice: above rumble and hum, below where a lossy source may end.</summary>
    public static ReadOnlySpan<double> EdgesHz => [180, 300, 450, 650, 900, 1250, 1750, 2500, 3500, 5000, 7000, 10_000];

    /// <summary>1: the only channel. 2: sum and difference.</summary>
    public int Planes => _series.Length / Count;

    /// <summary>Steps.</summary>
    public int Steps => _series[0].Length;

    /// <summary>Codes of one band.</summary>
    /// <param name="plane">0: sum, or the only channel; 1: difference.</param>
    /// <param name="band">0 to <see cref="Count"/> − 1.</param>
    public ReadOnlySpan<byte> Codes(int plane, int band) => _series[(plane * Count) + band];

    /// <summary>The level a code stands for, dB re a full-scale square.</summary>
    public double Db(byte code) => LowestDb + OffsetDb + (CodeDb * code);

    /// <summary>The code of a power.</summary>
    /// <param name="power">Mean square, 0 and up; full scale 1.0.</param>
    /// <param name="offsetDb">Where the codes count from.</param>
    public static byte Code(double power, float offsetDb) => power > 0
        ? (byte)Math.Clamp(Math.Round(((10 * Math.Log10(power)) - LowestDb - offsetDb) / CodeDb), 0, byte.MaxValue)
        : (byte)0;

    /// <summary>The offset at which a power falls on a code exactly.</summary>
    /// <param name="power">Mean square, above 0.</param>
    public static float OffsetOf(double power)
    {
        double above = (10 * Math.Log10(power)) - LowestDb;
        return (float)(above - (CodeDb * Math.Floor(above / CodeDb)));
    }

    internal byte[][] Series => _series;

    internal EnvelopeBands Slice(int firstStep, int endStep) => new([.. _series.Select(codes => codes[firstStep..endStep])], OffsetDb);

    /// <summary>Puts bands one behind the other, in codes of the first.</summary>
    internal static EnvelopeBands Join(IReadOnlyList<EnvelopeBands> parts)
    {
        float offsetDb = parts[0].OffsetDb;
        return new EnvelopeBands(
            [.. Enumerable.Range(0, parts[0]._series.Length).Select(i => parts.SelectMany(part => part._series[i].Select(code => part.Recoded(code, offsetDb))).ToArray())],
            offsetDb);
    }

    private byte Recoded(byte code, float offsetDb) =>
        code == 0 ? code : (byte)Math.Clamp(Math.Round(code + ((OffsetDb - offsetDb) / CodeDb)), 0, byte.MaxValue);
}
