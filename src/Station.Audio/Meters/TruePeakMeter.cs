using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>The highest point of the wave between the samples of one channel, as a converter or a sample rate conversion would meet it.</summary>
/// <remarks>
/// Where nothing can be higher than what was found already, nothing is computed: most of a side is passed over by one comparison for 20 ms.
/// Plainly: the largest magnitude of all samples and all <see cref="TruePeakInterpolator.Fine"/> values between them. Silence is taken to
/// precede the first sample and to follow the last.
/// </remarks>
internal sealed class TruePeakMeter
{
    private const int Before = (TruePeakInterpolator.FineTaps / 2) - 1;
    private const int After = TruePeakInterpolator.FineTaps / 2;
    private const int Context = Before + After;

    // The highest coarse value beside a peak is at most 1.7 dB below it up to 0.48 fs: tests compare with measuring every interval.
    private const float WorthMeasuring = 0.82f;

    private float[] _window = new float[Context];
    private float _max;

    /// <summary>Largest magnitude so far, linear; 1.0 is full scale. Complete after <see cref="Finish"/>.</summary>
    public float Peak => _max;

    /// <summary>Adds samples of this channel in order.</summary>
    /// <param name="interleaved">Whole frames, every sample finite.</param>
    /// <param name="channels">Samples of a frame.</param>
    /// <param name="channel">Which of them is this meter's.</param>
    /// <param name="samplePeak">Largest magnitude of this channel among them, which the caller has at hand.</param>
    public void Add(ReadOnlySpan<float> interleaved, int channels, int channel, float samplePeak)
    {
        int count = interleaved.Length / channels;
        if (_window.Length < Context + count)
        {
            Array.Resize(ref _window, Context + count);
        }

        Span<float> window = _window.AsSpan(0, Context + count);
        Span<float> fresh = window[Context..];
        for (int i = 0; i < count; i++)
        {
            fresh[i] = interleaved[(i * channels) + channel];
        }

        _max = Math.Max(_max, samplePeak);
        float nearby = Math.Max(samplePeak, LargestOf(window[..Context]));
        if (nearby * TruePeakInterpolator.LargestGain > _max)
        {
            Search(window, count);
        }

        window[count..].CopyTo(_window);
    }

    /// <summary>Measures what waited for the samples behind it.</summary>
    public void Finish() => Add(new float[After], 1, 0, 0);

    private static float LargestOf(ReadOnlySpan<float> samples)
    {
        float largest = 0;
        foreach (float sample in samples)
        {
            largest = Math.Max(largest, Math.Abs(sample));
        }

        return largest;
    }

    /// <summary>Looks through the intervals that begin at <see cref="Before"/> and the samples after it.</summary>
    private void Search(ReadOnlySpan<float> window, int count)
    {
        const int CoarseBefore = (TruePeakInterpolator.CoarseTaps / 2) - 1;
        int lanes = Vector256<float>.Count;
        int first = Before;
        int end = Before + count;
        for (; first + lanes <= end; first += lanes)
        {
            ReadOnlySpan<float> from = window[(first - CoarseBefore)..];
            Vector256<float> highest = Vector256<float>.Zero;
            foreach (float[] taps in TruePeakInterpolator.Coarse)
            {
                Vector256<float> sum = Vector256<float>.Zero;
                for (int tap = 0; tap < taps.Length; tap++)
                {
                    sum += Vector256.Create(taps[tap]) * Vector256.Create(from[tap..]);
                }

                highest = Vector256.Max(highest, Vector256.Abs(sum));
            }

            uint worth = Vector256.GreaterThan(highest, Vector256.Create(WorthMeasuring * _max)).ExtractMostSignificantBits();
            for (; worth != 0; worth &= worth - 1)
            {
                Measure(window, first + System.Numerics.BitOperations.TrailingZeroCount(worth));
            }
        }

        for (; first < end; first++)
        {
            if (LargestOf(window.Slice(first - Before, TruePeakInterpolator.FineTaps)) * TruePeakInterpolator.LargestGain > _max)
            {
                Measure(window, first);
            }
        }
    }

    private void Measure(ReadOnlySpan<float> window, int interval)
    {
        ReadOnlySpan<float> samples = window.Slice(interval - Before, TruePeakInterpolator.FineTaps);
        foreach (double[] taps in TruePeakInterpolator.Fine)
        {
            Vector256<double> sum = Vector256<double>.Zero;
            for (int tap = 0; tap < taps.Length; tap += Vector256<double>.Count)
            {
                (Vector128<double> low, Vector128<double> high) = Vector128.Widen(Vector128.Create(samples[tap..]));
                sum += Vector256.Create(taps.AsSpan(tap)) * Vector256.Create(low, high);
            }

            _max = Math.Max(_max, (float)Math.Abs(Vector256.Sum(sum)));
        }
    }
}
