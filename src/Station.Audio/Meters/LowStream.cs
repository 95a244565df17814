using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>Brings each channel down to 1.4 to 2 kHz, enough for mains hum, its harmonics, and rumble.</summary>
/// <remarks>
/// First plain sums down to about 6 kHz, then a windowed-sinc low-pass worked out for every fourth sample. Up to 500 Hz the gain is within 0.15 dB; what
/// folds there from above is lowered by 50 dB by the low-pass and, near multiples of 6 kHz, by 21 dB and more (36 dB onto 100 Hz) by the sums (computed);
/// music has little there.
/// </remarks>
internal sealed class LowStream
{
    private const double FirstRateHz = 6_000;
    private const int SecondFactor = 4;
    private const int Taps = 64;
    private const double CutoffHz = 640;

    private readonly int _channels;
    private readonly int _firstFactor;
    private readonly float[] _kernel;
    private readonly float[][] _history;
    private readonly float[] _sum = new float[2];
    private int _summed;
    private int _filled = Taps - SecondFactor;      // the capture begins after silence

    /// <param name="sampleRateHz">8,000 and up.</param>
    /// <param name="channels">1 or 2.</param>
    public LowStream(int sampleRateHz, int channels)
    {
        _channels = channels;
        _firstFactor = Math.Max(1, (int)Math.Round(sampleRateHz / FirstRateHz));
        double rateHz = (double)sampleRateHz / _firstFactor;
        RateHz = rateHz / SecondFactor;

        // The sums' factor is taken out here.
        _kernel = [.. WindowedSinc.LowPass(Taps, CutoffHz / rateHz).Select(tap => (float)(tap / _firstFactor))];
        _history = [.. Enumerable.Range(0, channels).Select(_ => new float[Taps])];
    }

    /// <summary>Rate of what comes out, Hz.</summary>
    public double RateHz { get; }

    /// <summary>Takes whole frames and hands on what became whole.</summary>
    /// <param name="samples">Interleaved and finite.</param>
    /// <param name="output">Gets each pair of samples that became whole; the right one is 0 for one channel. Room for frames ÷ 4 + 1 pairs.</param>
    /// <returns>Pairs written.</returns>
    public int Run(ReadOnlySpan<float> samples, Span<float> output)
    {
        int frames = samples.Length / _channels;
        int count = 0;
        for (int at = 0; at < frames;)
        {
            int taken = Math.Min(_firstFactor - _summed, frames - at);
            Sum(samples.Slice(at * _channels, taken * _channels));
            at += taken;
            _summed += taken;
            if (_summed < _firstFactor)
            {
                break;
            }

            _summed = 0;
            for (int channel = 0; channel < _channels; channel++)
            {
                _history[channel][_filled] = _sum[channel];
                _sum[channel] = 0;
            }

            if (++_filled == Taps)
            {
                output[2 * count] = Next(_history[0]);
                output[(2 * count) + 1] = _channels == 2 ? Next(_history[1]) : 0;
                count++;
                _filled = Taps - SecondFactor;
            }
        }

        return count;
    }

    private void Sum(ReadOnlySpan<float> samples)
    {
        if (_channels == 1)
        {
            foreach (float sample in samples)
            {
                _sum[0] += sample;
            }

            return;
        }

        float left = _sum[0], right = _sum[1];
        for (int i = 0; i + 1 < samples.Length; i += 2)
        {
            left += samples[i];
            right += samples[i + 1];
        }

        (_sum[0], _sum[1]) = (left, right);
    }

    private float Next(float[] history)
    {
        ReadOnlySpan<Vector256<float>> x = MemoryMarshal.Cast<float, Vector256<float>>(history);
        ReadOnlySpan<Vector256<float>> h = MemoryMarshal.Cast<float, Vector256<float>>(_kernel);
        Vector256<float> sum = Vector256<float>.Zero;
        for (int i = 0; i < x.Length && i < h.Length; i++)
        {
            sum += x[i] * h[i];
        }

        Array.Copy(history, SecondFactor, history, 0, Taps - SecondFactor);
        return Vector256.Sum(sum);
    }
}
