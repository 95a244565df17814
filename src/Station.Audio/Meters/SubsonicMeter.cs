using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>Mean square of each step in the subsonic band, per channel.</summary>
/// <remarks>
/// The samples are averaged over a sixteenth of a step (1.25 ms) and filtered at that rate of 800 Hz: one addition a sample instead of three
/// sections. Averaging lets through a twentieth of what lies near 800 Hz; such sound is there only while the stylus is in the
/// groove, where the band is full anyway.
/// </remarks>
internal sealed class SubsonicMeter
{
    private const int Pieces = 16;

    // As in the step filter: dropped at each step's end, so that silence never runs through denormal arithmetic.
    private const double NegligibleState = 1e-30;

    private readonly int _channels;
    private readonly BiquadCoefficients[] _sections;
    private readonly double[] _state;

    public SubsonicMeter(int sampleRateHz, int channels)
    {
        _channels = channels;
        _sections = [.. SubsonicBand.Sections((double)sampleRateHz * Pieces / StepLength.Frames(sampleRateHz))];
        _state = new double[channels * _sections.Length * 2];
    }

    /// <summary>Mean squares of one step, left and right; the right one repeats the left for one channel.</summary>
    /// <param name="samples">Interleaved and finite.</param>
    public (double Left, double Right) Add(ReadOnlySpan<float> samples)
    {
        int frames = samples.Length / _channels;
        double left = 0;
        double right = 0;
        for (int piece = 0; piece < Pieces; piece++)
        {
            int from = frames * piece / Pieces;
            int to = frames * (piece + 1) / Pieces;
            if (from == to)
            {
                continue;
            }

            (double l, double r) = _channels == 2 ? SampleScan.SumPairs(samples[(2 * from)..(2 * to)]) : (Sum(samples[from..to]), 0);
            double x = Filter(0, l / (to - from));
            left += x * x;
            if (_channels == 2)
            {
                x = Filter(1, r / (to - from));
                right += x * x;
            }
        }

        foreach (ref double value in _state.AsSpan())
        {
            value = Math.Abs(value) > NegligibleState ? value : 0;
        }

        int pieces = Math.Min(Pieces, Math.Max(1, frames));
        return (left / pieces, (_channels == 2 ? right : left) / pieces);
    }

    private double Filter(int channel, double x)
    {
        Span<double> state = _state.AsSpan(channel * _sections.Length * 2, _sections.Length * 2);
        for (int i = 0; i < _sections.Length; i++)
        {
            BiquadCoefficients c = _sections[i];
            double y = (c.B0 * x) + state[2 * i];
            state[2 * i] = (c.B1 * x) + state[(2 * i) + 1] - (c.A1 * y);
            state[(2 * i) + 1] = (c.B2 * x) - (c.A2 * y);
            x = y;
        }

        return x;
    }

    private static double Sum(ReadOnlySpan<float> samples)
    {
        double sum = 0;
        foreach (float sample in samples)
        {
            sum += sample;
        }

        return sum;
    }
}
