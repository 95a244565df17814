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
    private float[] _left;
    private float[] _right;
    private Vector128<float> _sum;
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
        _left = new float[Taps];
        _right = new float[Taps];
    }

    /// <summary>Rate of what comes out, Hz.</summary>
    public double RateHz { get; }

    /// <summary>Takes whole frames and hands on what became whole.</summary>
    /// <param name="samples">Interleaved and finite.</param>
    /// <param name="output">Gets each pair of samples that became whole; the right one is 0 for one channel. Room for frames ÷ 4 + 1 pairs.</param>
    /// <returns>Pairs written.</returns>
    public int Run(ReadOnlySpan<float> samples, Span<float> output)
    {
        AddSums(samples);
        int count = 0;
        int from = 0;
        for (; from + Taps <= _filled; from += SecondFactor)
        {
            output[2 * count] = Dot(_left.AsSpan(from, Taps));
            output[(2 * count) + 1] = _channels == 2 ? Dot(_right.AsSpan(from, Taps)) : 0;
            count++;
        }

        _left.AsSpan(from, _filled - from).CopyTo(_left);
        _right.AsSpan(from, _filled - from).CopyTo(_right);
        _filled -= from;
        return count;
    }

    // Left in the first lane, right in the second.
    private void AddSums(ReadOnlySpan<float> samples)
    {
        int frames = samples.Length / _channels;
        int room = _filled + (frames / _firstFactor) + 1;
        if (room > _left.Length)
        {
            Array.Resize(ref _left, room);
            Array.Resize(ref _right, room);
        }

        for (int at = 0; at < frames;)
        {
            int end = Math.Min(frames, at + _firstFactor - _summed);
            _summed += end - at;
            _sum = _channels == 2 ? SumPairs(_sum, samples[(2 * at)..(2 * end)]) : Sum(_sum, samples[at..end]);
            at = end;
            if (_summed == _firstFactor)
            {
                _left[_filled] = _sum[0];
                _right[_filled++] = _sum[1];
                _sum = Vector128<float>.Zero;
                _summed = 0;
            }
        }
    }

    private static Vector128<float> SumPairs(Vector128<float> sum, ReadOnlySpan<float> samples)
    {
        foreach (ulong frame in MemoryMarshal.Cast<float, ulong>(samples))
        {
            sum += Vector128.CreateScalar(frame).AsSingle();
        }

        return sum;
    }

    private static Vector128<float> Sum(Vector128<float> sum, ReadOnlySpan<float> samples)
    {
        float all = sum[0];
        foreach (float sample in samples)
        {
            all += sample;
        }

        return Vector128.CreateScalar(all);
    }

    private float Dot(ReadOnlySpan<float> window)
    {
        ReadOnlySpan<Vector256<float>> x = MemoryMarshal.Cast<float, Vector256<float>>(window);
        ReadOnlySpan<Vector256<float>> h = MemoryMarshal.Cast<float, Vector256<float>>(_kernel);
        Vector256<float> sum = Vector256<float>.Zero;
        for (int i = 0; i < x.Length && i < h.Length; i++)
        {
            sum += x[i] * h[i];
        }

        return Vector256.Sum(sum);
    }
}
