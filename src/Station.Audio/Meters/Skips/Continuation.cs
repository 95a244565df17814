namespace Station.Audio.Meters.Skips;

/// <summary>
/// Tells how well the sound on one side of an instant goes on where the other side leads it, by Burg's predictor (J. P. Burg, 1967, as in S. M. Kay,
/// <i>Modern Spectral Estimation</i>, 1988; from memory).
/// </summary>
/// <remarks>
/// Sounding tones never end within a millisecond: also where a new note is struck, the old ones go on for a while, in phase. Where the stylus has jumped, all of them
/// are other tones or in another phase. Not for two threads at once.
/// </remarks>
/// <param name="order">Coefficients of the predictor.</param>
/// <param name="trainSamples">Samples it is made from, more than twice the order.</param>
/// <param name="aheadSamples">Samples compared.</param>
/// <param name="beforeSamples">Samples left out before the instant.</param>
/// <param name="behindSamples">Samples left out behind it, where a click is.</param>
internal sealed class Continuation(int order, int trainSamples, int aheadSamples, int beforeSamples, int behindSamples)
{
    private readonly double[] _coefficients = new double[order + 1];
    private readonly double[] _previous = new double[order + 1];
    private readonly double[] _forward = new double[trainSamples];
    private readonly double[] _backward = new double[trainSamples];
    private readonly double[] _train = new double[trainSamples];
    private readonly double[] _extended = new double[order + beforeSamples + behindSamples + aheadSamples];

    /// <summary>Samples needed before and behind the instant.</summary>
    public int Reach => trainSamples + beforeSamples + behindSamples + aheadSamples;

    /// <summary>
    /// The better of both directions: correlation of what was foretold with what came, −1 to 1. Around 0 nothing goes on; also 1 where one side is silent, of which nothing can
    /// be told.
    /// </summary>
    /// <param name="samples">The sound.</param>
    /// <param name="at">The instant; <see cref="Reach"/> samples lie on either side.</param>
    public double Of(ReadOnlySpan<float> samples, int at)
    {
        int gap = beforeSamples + behindSamples;
        for (int i = 0; i < trainSamples; i++)
        {
            _train[i] = samples[at - beforeSamples - trainSamples + i];
        }

        double onward = Foretold(samples, at + behindSamples, 1, gap);
        for (int i = 0; i < trainSamples; i++)
        {
            _train[i] = samples[at + behindSamples + trainSamples - 1 - i];
        }

        return Math.Max(onward, Foretold(samples, at - beforeSamples - 1, -1, gap));
    }

    /// <summary>The predictor's coefficients for a stretch; the first one is 1.</summary>
    /// <param name="stretch">As many samples as it is made from.</param>
    public ReadOnlySpan<double> CoefficientsOf(ReadOnlySpan<float> stretch)
    {
        for (int i = 0; i < trainSamples; i++)
        {
            _train[i] = stretch[i];
        }

        Fit();
        return _coefficients;
    }

    private double Foretold(ReadOnlySpan<float> samples, int from, int direction, int gap)
    {
        Fit();
        _train.AsSpan(trainSamples - order).CopyTo(_extended);
        for (int i = order; i < _extended.Length; i++)
        {
            double sum = 0;
            for (int k = 1; k <= order; k++)
            {
                sum -= _coefficients[k] * _extended[i - k];
            }

            _extended[i] = sum;
        }

        double product = 0, told = 0, came = 0;
        for (int i = 0; i < aheadSamples; i++)
        {
            double y = _extended[order + gap + i];
            double x = samples[from + (direction * i)];
            product += x * y;
            told += y * y;
            came += x * x;
        }

        double norm = Math.Sqrt(told * came);
        return norm > 0 && double.IsFinite(norm) ? product / norm : 1;
    }

    private void Fit()
    {
        _train.CopyTo(_forward, 0);
        _train.CopyTo(_backward, 0);
        Array.Clear(_coefficients);
        _coefficients[0] = 1;
        for (int m = 1; m <= order; m++)
        {
            double product = 0, power = 0;
            for (int i = m; i < trainSamples; i++)
            {
                double f = _forward[i], b = _backward[i - 1];
                product += f * b;
                power += (f * f) + (b * b);
            }

            double reflection = power > 0 ? -2 * product / power : 0;
            _coefficients.CopyTo(_previous, 0);
            for (int k = 1; k <= m; k++)
            {
                _coefficients[k] = _previous[k] + (reflection * _previous[m - k]);
            }

            // From the end: each place needs its neighbour's old value.
            for (int i = trainSamples - 1; i >= m; i--)
            {
                double f = _forward[i], b = _backward[i - 1];
                _forward[i] = f + (reflection * b);
                _backward[i] = b + (reflection * f);
            }
        }
    }
}
