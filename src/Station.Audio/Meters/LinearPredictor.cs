using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>
/// Predicts each sample from the eight before it by the stretch's own autocorrelation (Levinson and Durbin's recursion) and gives what the
/// prediction misses: music and groove noise become small and even, a tick stays a tick.
/// </summary>
/// <remarks>
/// The inverse filter of S. J. Godsill and P. J. W. Rayner, <i>Digital Audio Restoration</i>, Springer 1998, "Removal of Clicks". Of the order there is no
/// rule; eight is this project's choice: more costs time and sharpens ticks little.
/// </remarks>
internal sealed class LinearPredictor
{
    /// <summary>Samples that predict the next.</summary>
    public const int Order = 8;

    // White noise 50 dB below the signal keeps the recursion away from rounding where the signal is all bass. Own choice.
    private const double Whitening = 1e-5;

    private readonly double[] _correlation = new double[Order + 1];
    private readonly double[] _coefficients = new double[Order + 1];
    private readonly float[] _taps = new float[Order + 1];

    /// <summary>Fits the predictor to a stretch and writes the magnitude of what it misses.</summary>
    /// <param name="samples">The stretch behind <see cref="Order"/> samples before it.</param>
    /// <param name="missed">As long as the stretch.</param>
    public void Run(ReadOnlySpan<float> samples, Span<float> missed)
    {
        Correlate(samples);
        if (_correlation[0] <= 0)
        {
            missed.Clear();
            return;
        }

        Fit();
        Filter(samples, missed);
    }

    private void Correlate(ReadOnlySpan<float> samples)
    {
        ReadOnlySpan<float> now = samples[Order..];
        for (int lag = 0; lag <= Order; lag++)
        {
            _correlation[lag] = InnerProduct.Of(now, samples.Slice(Order - lag, now.Length));
        }
    }

    private void Fit()
    {
        _correlation[0] *= 1 + Whitening;
        LevinsonRecursion.Fit(_correlation, _coefficients);
        for (int i = 0; i <= Order; i++)
        {
            _taps[i] = (float)_coefficients[i];
        }
    }

    private void Filter(ReadOnlySpan<float> samples, Span<float> missed)
    {
        ref float x = ref MemoryMarshal.GetReference(samples);
        int i = 0;
        Vector256<float> t0 = Vector256.Create(_taps[0]), t1 = Vector256.Create(_taps[1]), t2 = Vector256.Create(_taps[2]);
        Vector256<float> t3 = Vector256.Create(_taps[3]), t4 = Vector256.Create(_taps[4]), t5 = Vector256.Create(_taps[5]);
        Vector256<float> t6 = Vector256.Create(_taps[6]), t7 = Vector256.Create(_taps[7]), t8 = Vector256.Create(_taps[8]);
        for (; i + 8 <= missed.Length; i += 8)
        {
            nuint at = (nuint)(i + Order);
            Vector256<float> sum = ((t0 * Vector256.LoadUnsafe(ref x, at)) + (t1 * Vector256.LoadUnsafe(ref x, at - 1)))
                + ((t2 * Vector256.LoadUnsafe(ref x, at - 2)) + (t3 * Vector256.LoadUnsafe(ref x, at - 3)))
                + (((t4 * Vector256.LoadUnsafe(ref x, at - 4)) + (t5 * Vector256.LoadUnsafe(ref x, at - 5)))
                + ((t6 * Vector256.LoadUnsafe(ref x, at - 6)) + (t7 * Vector256.LoadUnsafe(ref x, at - 7))))
                + (t8 * Vector256.LoadUnsafe(ref x, at - 8));
            Vector256.Abs(sum).CopyTo(missed[i..]);
        }

        for (; i < missed.Length; i++)
        {
            float sum = 0;
            for (int tap = 0; tap <= Order; tap++)
            {
                sum += _taps[tap] * samples[i + Order - tap];
            }

            missed[i] = Math.Abs(sum);
        }
    }
}
