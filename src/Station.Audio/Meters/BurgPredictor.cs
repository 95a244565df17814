namespace Station.Audio.Meters;

/// <summary>
/// Linear prediction by Burg's method (J. P. Burg, 1967, as in S. M. Kay, <i>Modern Spectral Estimation</i>, 1988; from memory): the error e[n] = Σ a[k]·x[n − k], a[0] = 1, is
/// least forwards and backwards together.
/// </summary>
/// <remarks>Not for two threads at once; nothing is allocated by a fit.</remarks>
/// <param name="order">Coefficients behind the first.</param>
/// <param name="most">Samples that may be fitted at once.</param>
internal sealed class BurgPredictor(int order, int most)
{
    private readonly double[] _coefficients = new double[order + 1];
    private readonly double[] _previous = new double[order + 1];
    private readonly double[] _forward = new double[most];
    private readonly double[] _backward = new double[most];

    /// <summary>a[0] to a[order] of the last fit.</summary>
    public ReadOnlySpan<double> Coefficients => _coefficients;

    /// <summary>Fits one stretch.</summary>
    /// <param name="samples">More than twice as many as the order.</param>
    /// <returns>Mean square of the error left.</returns>
    public double Fit(ReadOnlySpan<double> samples) => Fit(samples, 0, 0);

    /// <summary>Fits two stretches as one, with a hole between them that is not looked at.</summary>
    /// <param name="samples">Both stretches and the hole.</param>
    /// <param name="holeFrom">First sample of the hole.</param>
    /// <param name="holeEnd">The one after its last; as <paramref name="holeFrom"/> where there is none.</param>
    /// <returns>Mean square of the error left.</returns>
    public double Fit(ReadOnlySpan<double> samples, int holeFrom, int holeEnd)
    {
        samples.CopyTo(_forward);
        samples.CopyTo(_backward);
        Array.Clear(_coefficients);
        _coefficients[0] = 1;
        for (int m = 1; m <= order; m++)
        {
            double product = 0;
            double power = 0;
            Sum(0, holeFrom, m, ref product, ref power);
            Sum(holeEnd, samples.Length, m, ref product, ref power);
            double reflection = power > 0 ? -2 * product / power : 0;
            Turn(0, holeFrom, m, reflection);
            Turn(holeEnd, samples.Length, m, reflection);
            _coefficients.CopyTo(_previous, 0);
            for (int k = 1; k <= m; k++)
            {
                _coefficients[k] = _previous[k] + (reflection * _previous[m - k]);
            }
        }

        int count = Math.Max(0, holeFrom - order) + Math.Max(0, samples.Length - holeEnd - order);
        return count == 0 ? 0 : (Square(0, holeFrom) + Square(holeEnd, samples.Length)) / count;
    }

    private void Sum(int from, int end, int m, ref double product, ref double power)
    {
        if (end - from > m)
        {
            ReadOnlySpan<double> forward = _forward.AsSpan((from + m)..end);
            ReadOnlySpan<double> backward = _backward.AsSpan((from + m - 1)..(end - 1));
            product += InnerProduct.Of(forward, backward);
            power += InnerProduct.Of(forward, forward) + InnerProduct.Of(backward, backward);
        }
    }

    // From the end: each place needs its neighbour's old value.
    private void Turn(int from, int end, int m, double reflection)
    {
        for (int i = end - 1; i >= from + m; i--)
        {
            double forward = _forward[i];
            double backward = _backward[i - 1];
            _forward[i] = forward + (reflection * backward);
            _backward[i] = backward + (reflection * forward);
        }
    }

    private double Square(int from, int end)
    {
        ReadOnlySpan<double> errors = end - from > order ? _forward.AsSpan((from + order)..end) : [];
        return InnerProduct.Of(errors, errors);
    }
}
