namespace Station.Evaluation.Signal;

/// <summary>
/// The fine-groove replay curve 3180, 318 and 75 µs (IEC 60098; 318 and 75 µs in IASA TC-04 2nd ed. §5.3.6.2) and its inverse, by matched poles
/// and zeros: within 0.5 dB of the analogue curve up to 10 kHz at 44.1 kHz, which is all a fault needs.
/// </summary>
public static class ReplayCurve
{
    /// <summary>The curve with 0 dB at 1 kHz, as two first-order sections.</summary>
    public static Section[] Replay(double rateHz)
    {
        (double p1, double p2, double z) = Roots(rateHz);
        double gain = 1 / Magnitude(p1, p2, z, 1000 / rateHz);
        return [new Section(gain, -gain * z, 0, -p1, 0), new Section(1, 0, 0, -p2, 0)];
    }

    /// <summary>What a stage without the curve hands on, relative to one with it; 0 dB at 1 kHz.</summary>
    public static Section[] Missing(double rateHz)
    {
        (double p1, double p2, double z) = Roots(rateHz);
        double gain = Magnitude(p1, p2, z, 1000 / rateHz);
        return [new Section(gain, -gain * p1, 0, -z, 0), new Section(1, -p2, 0, 0, 0)];
    }

    private static (double P1, double P2, double Z) Roots(double rateHz) =>
        (Math.Exp(-1 / (3180e-6 * rateHz)), Math.Exp(-1 / (75e-6 * rateHz)), Math.Exp(-1 / (318e-6 * rateHz)));

    private static double Magnitude(double p1, double p2, double z, double turns)
    {
        var unit = System.Numerics.Complex.Exp(new System.Numerics.Complex(0, -2 * Math.PI * turns));
        return System.Numerics.Complex.Abs((1 - (z * unit)) / ((1 - (p1 * unit)) * (1 - (p2 * unit))));
    }
}
