using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>Looks closely at one instant: do the two sides part perfectly between two frames, and are they two places of the same music?</summary>
/// <remarks>
/// <para>
/// One linear predictor (autocorrelation method, order <see cref="Order"/>; Levinson's recursion) is made from both sides and both channels, the joint's surroundings left out. Run
/// forwards it fits up to the last frame before a joint; run backwards it fits down to the first behind; across, both fail. A tick lasts: what is behind its first frame is
/// not music, and the backward error says so. The sound of a groove has passed the converter's filter, which rings before an edge too.
/// </para>
/// <para>
/// A tick with an edge sharper than the rate, ringing below the music, would still pass. But its waveform is not the music's: across a joint, height, slope and curvature differ
/// as they do between any two places of this music (covariance of both channels), while a tick has little height for its curvature.
/// </para>
/// <para>
/// What is left is still mostly ticks. <see cref="JointContinuity"/> and <see cref="JointPhases"/> ask whether the music goes on across; they cost more, and are asked only where their
/// answer can matter.
/// </para>
/// </remarks>
internal sealed class JointAnalysis
{
    /// <summary>Order of the predictor (own choice: 24 to 48 did the same).</summary>
    public const int Order = 32;

    private const int Side = 512;                           // frames of either side the predictor is made from
    private const int Guard = 32;
    private const int Search = 8;                           // the peak behind the filter lies within this of the joint
    private const int LongestWindow = 64;
    private const int Orders = 4;                           // height, slope, curvature, its change
    private const double LeastJump = 9;                     // below these, nothing more is looked at (own choices)
    private const double LeastSplit = 3;
    private const double MostExcess = 4;
    private const double SigmaOfMedian = 1.4826;            // Gaussian
    private const double Ridge = 1e-9;                      // −90 dB of white noise keeps the recursion stable
    private const int RoughStep = 9;                        // every ninth error tells the usual one well enough to leave most instants at that (own choices)
    private const double RoughShare = 0.6;
    private const double LeastErrorForSplit = 2.5;          // an error this large is always there somewhere among 64 of noise

    // Of 720 joints cut into clean tuning sides 8 are left out by this, and three ticks in five.
    private const double LeastShape = -2;

    private readonly JointContinuity _continuity;
    private readonly JointPhases _phases;
    private readonly int _near;                             // frames of one step on the fine scale
    private readonly int _mismatchReach;
    private readonly double[][] _x = [new double[2 * Side], new double[2 * Side]];
    private readonly double[][] _forward = [new double[2 * Side], new double[2 * Side]];
    private readonly double[][] _backward = [new double[2 * Side], new double[2 * Side]];
    private readonly double[] _window = new double[Side - Guard];
    private readonly double[] _weighted = new double[Side - Guard];
    private readonly double[] _sorted = new double[Side];
    private readonly double[] _correlation = new double[Order + 1];
    private readonly double[] _reversed = new double[Order + 1];
    private readonly double[] _predictor = new double[Order + 1];

    public JointAnalysis(int sampleRateHz)
    {
        _near = Math.Max(1, (int)Math.Round(sampleRateHz / 44_100.0));
        _continuity = new JointContinuity(sampleRateHz);
        _phases = new JointPhases(sampleRateHz);
        _mismatchReach = 1200 * _near;
        Reach = Math.Max(Math.Max(_continuity.Reach, _phases.Reach), Math.Max(_mismatchReach, Side + (2 * Search) + 8)) + Search;
        for (int i = 0; i < _window.Length; i++)
        {
            _window[i] = 0.5 - (0.5 * Math.Cos(2 * Math.PI * (i + 1) / (_window.Length + 1)));
        }
    }

    /// <summary>Frames on either side that must be there.</summary>
    public int Reach { get; }

    /// <summary>A first look, at a hundredth of the cost: whether the sound can part near a frame.</summary>
    /// <param name="history">Holds <see cref="Reach"/> frames on either side.</param>
    /// <param name="at">Index near which the joint should be.</param>
    public bool MayPart(FrameHistory history, int at)
    {
        if (at < Reach || at + Reach > history.Frames.Length)
        {
            return false;
        }

        ReadOnlySpan<float> samples = history.Samples;
        for (int channel = 0; channel < 2; channel++)
        {
            for (int i = 0; i < 2 * Side; i++)
            {
                _x[channel][i] = samples[(2 * (at - Side + i)) + channel];
            }
        }

        if (!MakePredictor())
        {
            return false;
        }

        Span<double> sigma = stackalloc double[2];
        RoughSigma(sigma);
        (double roughSplit, double roughJump, _) = BestSplit(sigma);
        return roughJump >= RoughShare * LeastJump && roughSplit >= RoughShare * LeastSplit;
    }

    /// <summary>Looks closely where <see cref="MayPart"/> has just said yes.</summary>
    /// <param name="history">As before.</param>
    /// <param name="at">As before.</param>
    /// <returns>The best joint; null when there is none.</returns>
    public Joint? Analyse(FrameHistory history, int at)
    {
        ReadOnlySpan<float> samples = history.Samples;
        Span<double> sigma = stackalloc double[2];
        Span<double> power = stackalloc double[2];
        for (int channel = 0; channel < 2; channel++)
        {
            Predict(channel);
            double before = Median(_forward[channel].AsSpan(Order, Side - Guard - Order), 1);
            double behind = Median(_backward[channel].AsSpan(Side + Guard, Side - Guard - Order), 1);
            sigma[channel] = Math.Max(1e-12, SigmaOfMedian * Math.Max(before, behind));
            power[channel] = 1e-24 + (0.5 * (MeanSquare(_forward[channel].AsSpan(Order, Side - Guard - Order))
                + MeanSquare(_backward[channel].AsSpan(Side + Guard, Side - Guard - Order))));
        }

        (double split, double jump, int middle) = BestSplit(sigma);
        if (jump < LeastJump || split < LeastSplit)
        {
            return null;
        }

        double excess = Math.Max(Excess(_forward, middle, -1, power), Excess(_backward, middle, +1, power));
        if (excess > MostExcess)
        {
            return null;
        }

        int frame = at - Side + middle;
        (double below, double above, double steepness) = Mismatch(samples, frame);
        var shape = new JointShape(jump, split, excess, below, above, steepness);
        if (shape.Score(1) + JointShape.MostFromBreak < LeastShape)
        {
            return null;
        }

        double score = shape.Score(_continuity.Break(samples, frame));
        return score < LeastShape ? null : new Joint(history.FirstFrame + frame, score, _phases.Break(samples, frame));
    }

    private bool MakePredictor()
    {
        Array.Clear(_correlation);
        foreach (double[] x in _x)
        {
            foreach (int from in (ReadOnlySpan<int>)[0, Side + Guard])
            {
                ReadOnlySpan<double> part = x.AsSpan(from, Side - Guard);
                double mean = 0;
                foreach (double value in part)
                {
                    mean += value;
                }

                mean /= part.Length;
                for (int i = 0; i < part.Length; i++)
                {
                    _weighted[i] = (part[i] - mean) * _window[i];
                }

                for (int lag = 0; lag <= Order; lag++)
                {
                    _correlation[lag] += InnerProduct.Of(_weighted.AsSpan(0, part.Length - lag), _weighted.AsSpan(lag));
                }
            }
        }

        if (_correlation[0] < 1e-20)
        {
            return false;
        }

        _correlation[0] *= 1 + Ridge;
        LevinsonRecursion.Fit(_correlation, _predictor);
        return true;
    }

    // The errors around the middle, and the usual error from a few of the others.
    private void RoughSigma(Span<double> sigma)
    {
        Reverse();
        for (int channel = 0; channel < 2; channel++)
        {
            Forward(channel, Side - Search - Guard, Side + Search + 2, 1);
            Backward(channel, Side - Search - 2, Side + Search + Guard, 1);
            Forward(channel, Order, Side - Guard, RoughStep);
            Backward(channel, Side + Guard, (2 * Side) - Order, RoughStep);
            double before = Median(_forward[channel].AsSpan(Order, Side - Guard - Order), RoughStep);
            double behind = Median(_backward[channel].AsSpan(Side + Guard, Side - Guard - Order), RoughStep);
            sigma[channel] = Math.Max(1e-12, SigmaOfMedian * Math.Max(before, behind));
        }
    }

    // Forward errors up to a little behind the middle, backward errors from a little before it on.
    private void Predict(int channel)
    {
        Forward(channel, Order, Side + Search + 2, 1);
        Backward(channel, Side - Search - 2, (2 * Side) - Order, 1);
    }

    private void Reverse()
    {
        for (int i = 0; i <= Order; i++)
        {
            _reversed[i] = _predictor[Order - i];
        }
    }

    private void Forward(int channel, int from, int to, int step)
    {
        for (int i = from; i < to; i += step)
        {
            _forward[channel][i] = InnerProduct.Of(_reversed, _x[channel].AsSpan(i - Order, Order + 1));
        }
    }

    private void Backward(int channel, int from, int to, int step)
    {
        for (int i = from; i < to; i += step)
        {
            _backward[channel][i] = InnerProduct.Of(_predictor, _x[channel].AsSpan(i, Order + 1));
        }
    }

    private (double Split, double Jump, int Middle) BestSplit(ReadOnlySpan<double> sigma)
    {
        (double Split, double Jump, int Middle) best = (-1, 0, Side);
        for (int middle = Side - Search; middle <= Side + Search; middle++)
        {
            double worst = LeastErrorForSplit;
            for (int channel = 0; channel < 2; channel++)
            {
                for (int i = 1; i <= Guard; i++)
                {
                    worst = Math.Max(worst, Math.Abs(_forward[channel][middle - i]) / sigma[channel]);
                    worst = Math.Max(worst, Math.Abs(_backward[channel][middle + i - 1]) / sigma[channel]);
                }
            }

            double forward = Math.Max(Both(_forward, middle, sigma), Both(_forward, middle + 1, sigma));
            double backward = Math.Max(Both(_backward, middle - 1, sigma), Both(_backward, middle - 2, sigma));
            double jump = Math.Min(forward, backward);
            if (jump / worst > best.Split)
            {
                best = (jump / worst, jump, middle);
            }
        }

        return best;
    }

    private static double Both(double[][] errors, int frame, ReadOnlySpan<double> sigma)
    {
        double left = errors[0][frame] / sigma[0];
        double right = errors[1][frame] / sigma[1];
        return Math.Sqrt((left * left) + (right * right));
    }

    // The largest mean over windows of 8, 16, 32 and 64 frames next to the middle.
    private static double Excess(double[][] errors, int middle, int direction, ReadOnlySpan<double> power)
    {
        double largest = 0;
        double sum = 0;
        for (int i = 0; i < LongestWindow; i++)
        {
            int frame = direction > 0 ? middle + i : middle - 1 - i;
            for (int channel = 0; channel < 2; channel++)
            {
                double error = errors[channel][frame];
                sum += error * error / power[channel];
            }

            if (i is 7 or 15 or 31 or 63)
            {
                largest = Math.Max(largest, sum / (2 * (i + 1)));
            }
        }

        return largest;
    }

    // Height, slope, curvature and its change from one side only, by differences of means over one or four fine steps, held against their covariance in this music.
    private (double Below, double Above, double Steepness) Mismatch(ReadOnlySpan<float> samples, int middle)
    {
        Span<double> fine = stackalloc double[Orders];
        Span<double> coarse = stackalloc double[Orders];
        Mismatches(samples, middle, _near, fine);
        Mismatches(samples, middle, 4 * _near, coarse);
        double above = 0;
        for (int order = 0; order < Orders; order++)
        {
            above = Math.Max(above, Math.Max(fine[order], coarse[order]));
        }

        return (Math.Min(fine[0], coarse[0]), above, fine[2] / Math.Max(1e-6, fine[0]));
    }

    private void Mismatches(ReadOnlySpan<float> samples, int middle, int step, Span<double> mismatches)
    {
        int apart = 40 * _near;
        for (int order = 0; order < Orders; order++)
        {
            int length = (order + 1) * step;
            (double ll, double rr, double lr, double l1, double r1) = (0, 0, 0, 0, 0);
            int count = 0;
            for (int at = middle - _mismatchReach; at + length <= middle + _mismatchReach; at += 3 * step)
            {
                if (at + length > middle - apart && at < middle + apart)
                {
                    continue;
                }

                (double l, double r) = Difference(samples, at, order, step);
                ll += l * l;
                rr += r * r;
                lr += l * r;
                l1 += l;
                r1 += r;
                count++;
            }

            ll = (ll / count) - (l1 / count * (l1 / count));
            rr = (rr / count) - (r1 / count * (r1 / count));
            lr = (lr / count) - (l1 / count * (r1 / count));
            double floor = (1e-3 * (ll + rr)) + 1e-24;
            ll += floor;
            rr += floor;
            (double lb, double rb) = Difference(samples, middle - length, order, step);
            (double la, double ra) = Difference(samples, middle, order, step);
            double dl = la - lb;
            double dr = ra - rb;

            // Two unrelated places differ by twice the covariance; two channels: half of the sum of squares.
            double square = ((dl * dl * rr) - (2 * dl * dr * lr) + (dr * dr * ll)) / ((ll * rr) - (lr * lr));
            mismatches[order] = Math.Sqrt(Math.Max(0, square) / 4);
        }
    }

    // The order-th difference of the means over order + 1 neighbouring pieces of step frames.
    private static (double Left, double Right) Difference(ReadOnlySpan<float> samples, int from, int order, int step)
    {
        (double left, double right) = (0, 0);
        double weight = (order & 1) == 0 ? 1 : -1;
        for (int piece = 0; piece <= order; piece++)
        {
            (double l, double r) = (0, 0);
            int first = from + (piece * step);
            for (int i = first; i < first + step; i++)
            {
                l += samples[2 * i];
                r += samples[(2 * i) + 1];
            }

            left += weight * l / step;
            right += weight * r / step;
            weight = -weight * (order - piece) / (piece + 1);
        }

        return (left, right);
    }

    private double Median(ReadOnlySpan<double> errors, int step)
    {
        int count = 0;
        for (int i = 0; i < errors.Length; i += step)
        {
            _sorted[count++] = Math.Abs(errors[i]);
        }

        Array.Sort(_sorted, 0, count);
        return _sorted[count / 2];
    }

    private static double MeanSquare(ReadOnlySpan<double> values) => InnerProduct.Of(values, values) / values.Length;
}
