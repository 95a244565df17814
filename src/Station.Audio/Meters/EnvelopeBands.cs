namespace Station.Audio.Meters;

/// <summary>
/// The course of the spectrum in steps of 20 ms: the level of sum and difference of the channels in bands of about half an octave, half a decibel fine,
/// a byte each. 1.1 kB a second of stereo.
/// </summary>
/// <remarks>
/// Sum and difference rather than left and right: music is mostly in the sum, groove noise as much or more in the difference. Scaled so that the powers of
/// the two add up to those of the channels, halved.
/// </remarks>
public sealed class EnvelopeBands
{
    /// <summary>Bands.</summary>
    public const int Count = 11;

    /// <summary>Level of code 0 and of everything below, dB re a full-scale square.</summary>
    public const double LowestDb = -122;

    /// <summary>Decibels from one code to the next.</summary>
    public const double CodeDb = 0.5;

    private readonly byte[][] _series;

    internal EnvelopeBands(byte[][] series)
    {
        _series = series;
    }

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
    public static double Db(byte code) => LowestDb + (CodeDb * code);

    /// <summary>The code of a power.</summary>
    /// <param name="power">Mean square, 0 and up; full scale 1.0.</param>
    public static byte Code(double power) => power > 0
        ? (byte)Math.Clamp(Math.Round(((10 * Math.Log10(power)) - LowestDb) / CodeDb), 0, byte.MaxValue)
        : (byte)0;

    internal byte[][] Series => _series;

    internal EnvelopeBands Slice(int firstStep, int endStep) => new([.. _series.Select(codes => codes[firstStep..endStep])]);
}
