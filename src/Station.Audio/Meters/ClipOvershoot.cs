namespace Station.Audio.Meters;

/// <summary>Estimates how far a clipped wave would have gone, from what is left of it at either side.</summary>
/// <remarks>
/// <para>
/// Let the wave near its top be A·cos(ωt), cut at C. It crosses C at ±w/2, so A·cos φ = C and its slope there is m = A·ω·sin φ with
/// φ = ω·w/2. Dividing, φ·tan φ = m·w/(2C): the right side is measured, the left grows from 0 without bound for φ in [0, π/2), so there is
/// one φ, and the overshoot A/C is 1/cos φ. Exact for a sine of any frequency; for small overshoot the same as a parabola through the
/// crossings (A/C = 1 + m·w/(4C)), and it reads more than the parabola when much is missing, on the safe side for an advised level.
/// </para>
/// <para>
/// The crossing lies between the last free sample and the first clipped one. Three free samples give a parabola (Newton's backward
/// differences), x(δ) = x1 + v·δ + a·δ(δ+1)/2 with v = x1 − x2, a = v − (x2 − x3), solved for x(δ) = C, with slope v + a·(δ + ½).
/// A straight line would read the slope too high by ω·cot φ, a third too much at 0.5 dB and 1 kHz in 48 kHz.
/// </para>
/// </remarks>
internal static class ClipOvershoot
{
    /// <summary>No estimate goes beyond this; edges as steep as that say only "very much". dB.</summary>
    public const double MaxDb = 40;

    /// <summary>Estimates one run's overshoot.</summary>
    /// <param name="before">Up to three samples before the run, nearest first, as positive towards the ceiling.</param>
    /// <param name="after">Up to three samples after the run, nearest first, same sign.</param>
    /// <param name="ceiling">The clipped magnitude, above 0.</param>
    /// <param name="frames">Length of the run.</param>
    /// <returns>dB, 0 to <see cref="MaxDb"/>; null when neither edge falls away from the run.</returns>
    public static double? EstimateDb(ReadOnlySpan<float> before, ReadOnlySpan<float> after, double ceiling, int frames)
    {
        (double Delta, double Slope)? rise = Edge(before, ceiling);
        (double Delta, double Slope)? fall = Edge(after, ceiling);
        if (rise is null && fall is null)
        {
            return null;
        }

        // An edge that is not there (start or end of the capture) is taken to cross half-way between two samples.
        double width = frames + 1 - (rise?.Delta ?? 0.5) - (fall?.Delta ?? 0.5);
        double slope = ((rise?.Slope ?? fall!.Value.Slope) + (fall?.Slope ?? rise!.Value.Slope)) / 2;
        double cosine = CosineOf(slope * width / (2 * ceiling));
        return cosine <= 0.01 ? MaxDb : -20 * Math.Log10(cosine);
    }

    private static (double Delta, double Slope)? Edge(ReadOnlySpan<float> free, double ceiling)
    {
        if (free.Length < 2 || free[0] >= ceiling || free[0] <= free[1])
        {
            return null;
        }

        double x1 = free[0];
        double v = x1 - free[1];

        // Curvature counts only where it bends towards the top, as the wave's own does.
        double a = free.Length > 2 ? Math.Min(0, v - ((double)free[1] - free[2])) : 0;
        double delta = Math.Min(1, (ceiling - x1) / v);
        for (int i = 0; i < 4; i++)
        {
            double slope = v + (a * (delta + 0.5));
            if (slope <= 0)
            {
                break;
            }

            delta = Math.Clamp(delta - ((x1 + (v * delta) + (a * delta * (delta + 1) / 2) - ceiling) / slope), 0, 1);
        }

        return (delta, Math.Max(0, v + (a * (delta + 0.5))));
    }

    // cos φ of the φ in [0, π/2) with φ·tan φ = q, by Newton's method on φ·sin φ − q·cos φ.
    private static double CosineOf(double q)
    {
        double phi = Math.Min(Math.Sqrt(q), Math.PI / 2 * q / (q + 1));
        for (int i = 0; i < 6; i++)
        {
            (double sin, double cos) = Math.SinCos(phi);
            double slope = sin + (phi * cos) + (q * sin);
            if (slope <= 0)
            {
                break;
            }

            phi = Math.Clamp(phi - (((phi * sin) - (q * cos)) / slope), 0, Math.PI / 2);
        }

        return Math.Cos(phi);
    }
}
