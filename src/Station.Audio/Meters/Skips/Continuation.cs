namespace Station.Audio.Meters.Skips;

/// <summary>
/// Tells how well the sound on one side of an instant goes on where the other side leads it, by <see cref="BurgPredictor"/>.
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
    private readonly BurgPredictor _predictor = new(order, trainSamples);
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

    private double Foretold(ReadOnlySpan<float> samples, int from, int direction, int gap)
    {
        _predictor.Fit(_train);
        ReadOnlySpan<double> coefficients = _predictor.Coefficients;
        _train.AsSpan(trainSamples - order).CopyTo(_extended);
        for (int i = order; i < _extended.Length; i++)
        {
            double sum = 0;
            for (int k = 1; k <= order; k++)
            {
                sum -= coefficients[k] * _extended[i - k];
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
}
