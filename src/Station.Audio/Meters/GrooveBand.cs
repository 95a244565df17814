namespace Station.Audio.Meters;

/// <summary>
/// The band that tells music from a quiet groove: 200 Hz to 9 kHz, second-order Butterworth at either end.
/// </summary>
/// <remarks>
/// Below it lie arm resonance (near 12 Hz), rumble and hum, which make a gap look 14 dB louder than it sounds; above it, hiss and ticks
/// (both limits: common practice, measured on captures of real sides, no published source). Where the rate is too low for 9 kHz the upper
/// corner moves down to 0.4 of the rate.
/// </remarks>
public static class GrooveBand
{
    /// <summary>Lower corner (−3 dB), Hz.</summary>
    public const double LowHz = 200;

    /// <summary>Upper corner (−3 dB), Hz, for rates of 22 500 Hz and more.</summary>
    public const double HighHz = 9_000;

    /// <summary>The section that removes what lies below the band.</summary>
    /// <param name="sampleRateHz">8 000 to 384 000.</param>
    public static BiquadCoefficients HighPass(int sampleRateHz)
    {
        double k = Math.Tan(Math.PI * LowHz / sampleRateHz);
        double a0 = 1 + (Math.Sqrt(2) * k) + (k * k);
        return new BiquadCoefficients(1 / a0, -2 / a0, 1 / a0, 2 * ((k * k) - 1) / a0, (1 - (Math.Sqrt(2) * k) + (k * k)) / a0);
    }

    /// <summary>The section that removes what lies above the band.</summary>
    /// <param name="sampleRateHz">8 000 to 384 000.</param>
    public static BiquadCoefficients LowPass(int sampleRateHz)
    {
        double k = Math.Tan(Math.PI * Math.Min(HighHz, 0.4 * sampleRateHz) / sampleRateHz);
        double a0 = 1 + (Math.Sqrt(2) * k) + (k * k);
        return new BiquadCoefficients(k * k / a0, 2 * k * k / a0, k * k / a0, 2 * ((k * k) - 1) / a0, (1 - (Math.Sqrt(2) * k) + (k * k)) / a0);
    }
}
