namespace Station.Audio.Meters;

/// <summary>Loudness range of a programme (EBU Tech 3342): how far its loud and its quiet passages lie apart.</summary>
/// <remarks>
/// From short-term values (3 s) every 200 ms (Tech 3342 asks for an overlap of two thirds at least: once a second): those below −70 LUFS are left out, then those more than 20 LU below the mean power of the
/// rest; the range is the 95th less the 10th percentile, each the value at the nearest rank (the rank rule: from memory of Tech 3342's
/// worked program; between neighbours it moves the result by hundredths).
/// </remarks>
internal static class LoudnessRange
{
    private const double RelativeGateLu = -20;
    private const double LowPercentile = 0.10;
    private const double HighPercentile = 0.95;

    /// <summary>The range, LU; null when no value passes the absolute gate.</summary>
    /// <param name="shortTermPowers">K-weighted mean squares over 3 s, every 200 ms.</param>
    /// <param name="absoluteGatePower">The power of −70 LUFS.</param>
    public static double? Of(ReadOnlySpan<float> shortTermPowers, double absoluteGatePower)
    {
        List<double> passing = new(shortTermPowers.Length);
        double sum = 0;
        foreach (float power in shortTermPowers)
        {
            if (power >= absoluteGatePower)
            {
                passing.Add(power);
                sum += power;
            }
        }

        if (passing.Count == 0)
        {
            return null;
        }

        double gate = sum / passing.Count * Math.Pow(10, RelativeGateLu / 10);
        passing.RemoveAll(power => power < gate);
        passing.Sort();
        return 10 * Math.Log10(At(passing, HighPercentile) / At(passing, LowPercentile));
    }

    private static double At(List<double> ordered, double fraction) => ordered[(int)Math.Round((ordered.Count - 1) * fraction, MidpointRounding.AwayFromZero)];
}
