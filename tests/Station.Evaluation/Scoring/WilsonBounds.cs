namespace Station.Evaluation.Scoring;

/// <summary>95 % bounds of a share: Wilson, J. Am. Stat. Assoc. 22 (1927), z = 1.959964 (formula from memory, worked example in the tests).</summary>
public static class WilsonBounds
{
    private const double Z = 1.959964;

    /// <summary>The bounds, 0 to 1; 0 and 1 when nothing was tried.</summary>
    public static (double Low, double High) Of(int successes, int trials)
    {
        if (trials == 0)
        {
            return (0, 1);
        }

        double share = (double)successes / trials;
        double square = Z * Z;
        double centre = share + (square / (2 * trials));
        double half = Z * Math.Sqrt((share * (1 - share) / trials) + (square / (4.0 * trials * trials)));
        double scale = 1 + (square / trials);
        return (Math.Max(0, (centre - half) / scale), Math.Min(1, (centre + half) / scale));
    }
}
