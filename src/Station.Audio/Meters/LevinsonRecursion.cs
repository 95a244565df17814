namespace Station.Audio.Meters;

/// <summary>
/// Linear prediction from autocorrelation (N. Levinson, 1947; J. Durbin, 1960; from memory): the error e[n] = Σ a[k]·x[n − k], a[0] = 1, is least.
/// </summary>
internal static class LevinsonRecursion
{
    // Rounding may take a reflection to 1 and beyond, and the predictor out of bounds with it (own choice).
    private const double LargestReflection = 0.9999;

    /// <summary>Fits a predictor.</summary>
    /// <param name="correlation">Autocorrelation at lags 0 to the order; the first above 0, with whatever is added against rounding.</param>
    /// <param name="coefficients">Gets a[0] to a[order].</param>
    public static void Fit(ReadOnlySpan<double> correlation, Span<double> coefficients)
    {
        Span<double> previous = stackalloc double[coefficients.Length];
        coefficients.Clear();
        coefficients[0] = 1;
        double error = correlation[0];
        for (int m = 1; m < coefficients.Length; m++)
        {
            double sum = correlation[m];
            for (int k = 1; k < m; k++)
            {
                sum += coefficients[k] * correlation[m - k];
            }

            double reflection = Math.Clamp(-sum / error, -LargestReflection, LargestReflection);
            coefficients.CopyTo(previous);
            for (int k = 1; k <= m; k++)
            {
                coefficients[k] = previous[k] + (reflection * previous[m - k]);
            }

            error *= 1 - (reflection * reflection);
        }
    }
}
