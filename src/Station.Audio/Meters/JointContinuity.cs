namespace Station.Audio.Meters;

/// <summary>Whether the slow part of the music goes on across an instant as it does elsewhere.</summary>
/// <remarks>
/// Below about 1 kHz a tick weighs little, and notes go on as they were. Where frames are missing, every note's phase jumps. The wave is low-passed and thinned to about
/// 2750 Hz; a long predictor (Burg's method, order <see cref="Order"/>) is made from both sides; the few samples the filter smears the instant over are taken as unknown
/// and filled in so that the prediction errors become least (least squares interpolation: Godsill and Rayner, from memory). What error is left, over the middle value of the
/// same at other instants nearby, is the measure: about 1 where the music goes on.
/// </remarks>
internal sealed class JointContinuity
{
    /// <summary>Order of the predictor (own choice: 40 to 100 did much the same).</summary>
    public const int Order = 60;

    private const double RateHz = 2750;
    private const int Side = 300;                           // thinned samples on either side: 0.11 s
    private const int Gap = 4;
    private const int GapBefore = 2;                        // of which so many lie before the instant
    private const int Apart = 7;                            // between the instants compared with

    private readonly int _thin;
    private readonly float[] _lowPass;
    private readonly double[][] _y = [new double[2 * Side], new double[2 * Side]];
    private readonly double[][] _predictors = [new double[Order + 1], new double[Order + 1]];
    private readonly double[][] _factors = [new double[Gap * Gap], new double[Gap * Gap]];
    private readonly double[] _power = new double[2];
    private readonly BurgPredictor _burg = new(Order, 2 * Side);
    private readonly double[] _others = new double[2 * Side / Apart];

    public JointContinuity(int sampleRateHz)
    {
        _thin = Math.Max(1, (int)Math.Round(sampleRateHz / RateHz));
        int half = 2 * _thin;
        _lowPass = [.. WindowedSinc.LowPass((2 * half) + 1, 0.4 / _thin).Select(tap => (float)tap)];
        Reach = ((Side + 1) * _thin) + half;
    }

    /// <summary>Frames on either side that must be there.</summary>
    public int Reach { get; }

    /// <summary>The measure; 1 where nothing can be told.</summary>
    /// <param name="samples">Left and right in turn.</param>
    /// <param name="frame">The first frame behind the instant.</param>
    public double Break(ReadOnlySpan<float> samples, int frame)
    {
        // Thinned samples lie half a period off the instant on either side.
        int first = frame - (_thin / 2) - ((Side - 1) * _thin);
        for (int channel = 0; channel < 2; channel++)
        {
            if (!Prepare(samples, first, channel))
            {
                return 1;
            }
        }

        int count = 0;
        for (int at = Order + 2; at + Gap + Order + 2 <= 2 * Side; at += Apart)
        {
            if (Math.Abs(at + GapBefore - Side) > Order + Gap)
            {
                _others[count++] = Error(at);
            }
        }

        Span<double> others = _others.AsSpan(0, count);
        others.Sort();
        double usual = others[count / 2];
        return usual > 0 ? Error(Side - GapBefore) / usual : 1;
    }

    private bool Prepare(ReadOnlySpan<float> samples, int first, int channel)
    {
        double[] y = _y[channel];
        int half = _lowPass.Length / 2;
        double mean = 0;
        for (int i = 0; i < y.Length; i++)
        {
            int from = first + (i * _thin) - half;
            float sum = 0;
            for (int k = 0; k < _lowPass.Length; k++)
            {
                sum += _lowPass[k] * samples[(2 * (from + k)) + channel];
            }

            y[i] = sum;
            mean += sum;
        }

        mean /= y.Length;
        double power = 0;
        for (int i = 0; i < y.Length; i++)
        {
            y[i] -= mean;
            power += y[i] * y[i];
        }

        if (power < 1e-14)
        {
            return false;
        }

        // Both stretches beside the gap, as one.
        _power[channel] = 1e-30 + _burg.Fit(y, Side - GapBefore, Side - GapBefore + Gap);
        double[] predictor = _predictors[channel];
        _burg.Coefficients.CopyTo(predictor);
        Span<double> correlation = stackalloc double[Gap];
        for (int lag = 0; lag < Gap; lag++)
        {
            for (int i = lag; i <= Order; i++)
            {
                correlation[lag] += predictor[i] * predictor[i - lag];
            }
        }

        // Cholesky factor of the normal equations.
        double[] factor = _factors[channel];
        for (int row = 0; row < Gap; row++)
        {
            for (int column = 0; column <= row; column++)
            {
                double value = correlation[row - column];
                for (int k = 0; k < column; k++)
                {
                    value -= factor[(row * Gap) + k] * factor[(column * Gap) + k];
                }

                factor[(row * Gap) + column] = row == column ? Math.Sqrt(Math.Max(value, 1e-30)) : value / factor[(column * Gap) + column];
            }
        }

        return true;
    }

    // Least error left when the gap beginning at a sample is filled in, both channels, each over its own usual error.
    private double Error(int at)
    {
        Span<double> errors = stackalloc double[Order + Gap];
        Span<double> filled = stackalloc double[Gap];
        double total = 0;
        for (int channel = 0; channel < 2; channel++)
        {
            double[] y = _y[channel];
            double[] a = _predictors[channel];
            double[] factor = _factors[channel];
            double square = 0;
            for (int i = 0; i < errors.Length; i++)
            {
                double error = 0;
                for (int k = 0; k <= Order; k++)
                {
                    int source = i - k;
                    error += source is >= 0 and < Gap ? 0 : a[k] * y[at + source];
                }

                errors[i] = error;
                square += error * error;
            }

            for (int row = 0; row < Gap; row++)
            {
                double value = 0;
                for (int k = 0; k <= Order; k++)
                {
                    value += a[k] * errors[row + k];
                }

                for (int k = 0; k < row; k++)
                {
                    value -= factor[(row * Gap) + k] * filled[k];
                }

                filled[row] = value / factor[(row * Gap) + row];
                square -= filled[row] * filled[row];
            }

            total += Math.Max(0, square) / _power[channel];
        }

        return total;
    }
}
