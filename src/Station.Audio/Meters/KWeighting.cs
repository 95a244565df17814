namespace Station.Audio.Meters;

/// <summary>The two sections of K-weighting (ITU-R BS.1770-5 Annex 1) for any sample rate.</summary>
/// <remarks>
/// The Recommendation prints coefficients for 48 kHz only. The analogue values below are the ones in general use; by the bilinear transform
/// with K = tan(π·f0/fs) they give all seven published numbers at 48 kHz to 1e-12, which a test checks. At other rates the gain at 1 kHz
/// moves by up to 0.03 dB, a property of the transform.
/// </remarks>
public static class KWeighting
{
    private const double ShelfHz = 1681.974450955533;
    private const double ShelfGainDb = 3.999843853973347;
    private const double ShelfQ = 0.7071752369554196;
    private const double ShelfBandExponent = 0.4996667741545416;
    private const double HighPassHz = 38.13547087602444;
    private const double HighPassQ = 0.5003270373238773;

    /// <summary>Stage 1: the high shelf, 0 dB at low frequencies and +4.0 dB at high ones.</summary>
    /// <param name="sampleRateHz">8 000 to 384 000.</param>
    /// <exception cref="ArgumentOutOfRangeException">The rate is out of range.</exception>
    public static BiquadCoefficients Shelf(int sampleRateHz)
    {
        double k = Warp(ShelfHz, sampleRateHz);
        double high = Math.Pow(10, ShelfGainDb / 20);
        double band = Math.Pow(high, ShelfBandExponent);
        double a0 = 1 + (k / ShelfQ) + (k * k);
        return new BiquadCoefficients(
            (high + (band * k / ShelfQ) + (k * k)) / a0,
            2 * ((k * k) - high) / a0,
            (high - (band * k / ShelfQ) + (k * k)) / a0,
            2 * ((k * k) - 1) / a0,
            (1 - (k / ShelfQ) + (k * k)) / a0);
    }

    /// <summary>Stage 2: the high-pass. Its numerator is exactly 1, −2, 1 as printed, so the pass band is not quite 0 dB.</summary>
    /// <param name="sampleRateHz">8 000 to 384 000.</param>
    /// <exception cref="ArgumentOutOfRangeException">The rate is out of range.</exception>
    public static BiquadCoefficients HighPass(int sampleRateHz)
    {
        double k = Warp(HighPassHz, sampleRateHz);
        double a0 = 1 + (k / HighPassQ) + (k * k);
        return new BiquadCoefficients(1, -2, 1, 2 * ((k * k) - 1) / a0, (1 - (k / HighPassQ) + (k * k)) / a0);
    }

    private static double Warp(double frequencyHz, int sampleRateHz)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(sampleRateHz, 8_000);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(sampleRateHz, 384_000);
        return Math.Tan(Math.PI * frequencyHz / sampleRateHz);
    }
}
