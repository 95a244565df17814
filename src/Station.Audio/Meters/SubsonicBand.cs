namespace Station.Audio.Meters;

/// <summary>
/// The band that tells a stylus in the groove from one in the air: 5 to 36 Hz, where arm and cartridge resonate on the stylus' compliance,
/// second-order Butterworth below and fourth-order above.
/// </summary>
/// <remarks>
/// The resonance lies at 8 to 12 Hz by design and is stirred by every warp and by the bearing's rumble, so it is there as long as the stylus is in
/// the groove, music or not, and gone when it is lifted (limits: common practice, no source). A phono stage with a rumble filter takes it
/// away for good.
/// </remarks>
public static class SubsonicBand
{
    /// <summary>Lower corner (−3 dB), Hz.</summary>
    public const double LowHz = 5;

    /// <summary>Upper corner (−3 dB), Hz.</summary>
    public const double HighHz = 36;

    // Butterworth's two pole pairs of the fourth order: Q = 1 / (2 cos 22.5°) and 1 / (2 cos 67.5°).
    private const double FirstQuality = 0.541_196_100_146_197;
    private const double SecondQuality = 1.306_562_964_876_377;

    /// <summary>The three sections in series.</summary>
    /// <param name="rateHz">Values per second; at least 200.</param>
    public static IReadOnlyList<BiquadCoefficients> Sections(double rateHz) =>
        [HighPass(LowHz, rateHz), .. FourthOrderLowPass(HighHz, rateHz)];

    /// <summary>Second-order Butterworth.</summary>
    /// <param name="cornerHz">−3 dB, Hz.</param>
    /// <param name="rateHz">Values per second; more than twice the corner.</param>
    internal static BiquadCoefficients HighPass(double cornerHz, double rateHz)
    {
        double k = Math.Tan(Math.PI * cornerHz / rateHz);
        double a0 = 1 + (Math.Sqrt(2) * k) + (k * k);
        return new BiquadCoefficients(1 / a0, -2 / a0, 1 / a0, 2 * ((k * k) - 1) / a0, (1 - (Math.Sqrt(2) * k) + (k * k)) / a0);
    }

    /// <summary>Fourth-order Butterworth, two sections.</summary>
    /// <param name="cornerHz">−3 dB, Hz.</param>
    /// <param name="rateHz">Values per second; more than twice the corner.</param>
    internal static BiquadCoefficients[] FourthOrderLowPass(double cornerHz, double rateHz) =>
        [LowPass(cornerHz, rateHz, FirstQuality), LowPass(cornerHz, rateHz, SecondQuality)];

    private static BiquadCoefficients LowPass(double cornerHz, double rateHz, double quality)
    {
        double k = Math.Tan(Math.PI * cornerHz / rateHz);
        double a0 = 1 + (k / quality) + (k * k);
        return new BiquadCoefficients(k * k / a0, 2 * k * k / a0, k * k / a0, 2 * ((k * k) - 1) / a0, (1 - (k / quality) + (k * k)) / a0);
    }
}
