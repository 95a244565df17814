using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>The highest point of the wave between the samples of one channel, as a converter or a sample rate conversion would meet it.</summary>
/// <remarks>
/// Where nothing can be higher than what was found already, nothing is computed: most of a side is passed over by one comparison for 20 ms.
/// In what is left only the tops of the coarse wave are measured, so that a capture that stands at full scale from end to end costs little
/// more than music. Plainly: the largest magnitude of all samples and all <see cref="TruePeakInterpolator.Fine"/> values between them.
/// Silence is taken to precede the first sample and to follow the last.
/// </remarks>
internal sealed class TruePeakMeter
{
    // The interval beside the one a portion begins or ends with is looked at too: one sample more than the filter reaches.
    private const int Before = TruePeakInterpolator.FineTaps / 2;
    private const int After = (TruePeakInterpolator.FineTaps / 2) + 1;
    private const int Context = Before + After;

    // The last lanes of a portion read past it; what they find there is not looked at.
    private const int Margin = 8 + TruePeakInterpolator.CoarseTaps;

    // The highest coarse value beside a peak is at most 1.7 dB below it up to 0.48 fs: tests compare with measuring every interval.
    private const float WorthMeasuring = 0.82f;

    private float[] _window = new float[Context + Margin];
    private float[] _coarse = [];
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
        if (_window.Length < Context + count + Margin)
        {
            Array.Resize(ref _window, Context + count + Margin);
        }

        SampleScan.CopyChannel(interleaved, channels, channel, _window.AsSpan(Context, count));

        _max = Math.Max(_max, samplePeak);
        float nearby = Math.Max(samplePeak, LargestOf(_window.AsSpan(0, Context)));
        if (nearby * TruePeakInterpolator.LargestGain > _max)
        {
            Search(count);
        }

        _window.AsSpan(count, Context).CopyTo(_window);
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

    /// <summary>
    /// Looks through the intervals that begin at <see cref="Before"/> and the samples after it. One that is a top of the coarse wave, and near
    /// enough to the highest known, is measured on both sides of its highest coarse value, as far as the next: the peak lies there.
    /// </summary>
    private void Search(int count)
    {
        ReadOnlySpan<float> coarse = FillCoarse(count);
        for (int i = 0; i < count; i++)
        {
            float here = coarse[i + 1];
            if (here > WorthMeasuring * _max && here >= coarse[i] && here > coarse[i + 2])
            {
                Measure(Before + i);
            }
        }
    }

    /// <summary>
    /// The highest coarse value of each interval, the one before the first and the one after the last included; 0 where the samples are too low for one worth measuring.
    /// </summary>
    private ReadOnlySpan<float> FillCoarse(int count)
    {
        const int CoarseBefore = (TruePeakInterpolator.CoarseTaps / 2) - 1;
        int lanes = Vector256<float>.Count;
        if (_coarse.Length < count + 2 + lanes)
        {
            _coarse = new float[count + 2 + lanes];
        }

        Vector256<float> needed = Vector256.Create(WorthMeasuring * _max / TruePeakInterpolator.LargestCoarseGain);
        for (int i = 0; i < count + 2; i += lanes)
        {
            int first = Before - 1 + i;
            ReadOnlySpan<float> from = _window.AsSpan(first - CoarseBefore);
            Vector256<float> nearby = Vector256.Abs(Vector256.Create(from));
            for (int at = lanes; at < TruePeakInterpolator.CoarseTaps + lanes; at += lanes)
            {
                nearby = Vector256.Max(nearby, Vector256.Abs(Vector256.Create(from[at..])));
            }

            if (!Vector256.GreaterThanAny(nearby, needed))
            {
                Vector256<float>.Zero.CopyTo(_coarse, i);
                continue;
            }

            Vector256<float> highest = Vector256.Abs(Vector256.Create(_window.AsSpan(first)));
            foreach (float[] taps in TruePeakInterpolator.Coarse)
            {
                Vector256<float> sum = Vector256<float>.Zero;
                for (int tap = 0; tap < taps.Length; tap++)
                {
                    sum += Vector256.Create(taps[tap]) * Vector256.Create(from[tap..]);
                }

                highest = Vector256.Max(highest, Vector256.Abs(sum));
            }

            highest.CopyTo(_coarse, i);
        }

        return _coarse.AsSpan(0, count + 2);
    }

    private void Measure(int interval)
    {
        const int Reach = TruePeakInterpolator.FinePhases / TruePeakInterpolator.CoarsePhases;
        int top = (interval * TruePeakInterpolator.FinePhases) + (Reach * HighestCoarse(interval));
        for (int position = top - Reach; position <= top + Reach; position++)
        {
            (int from, int phase) = Math.DivRem(position, TruePeakInterpolator.FinePhases);
            if (phase > 0)
            {
                _max = Math.Max(_max, Math.Abs(Value(TruePeakInterpolator.Fine[phase - 1], from)));
            }
        }
    }

    /// <summary>Which coarse position of an interval is highest; 0 is the sample it begins with.</summary>
    private int HighestCoarse(int interval)
    {
        float highest = Math.Abs(_window[interval]);
        int position = 0;
        for (int phase = 1; phase < TruePeakInterpolator.CoarsePhases; phase++)
        {
            float value = Math.Abs(Value(TruePeakInterpolator.Coarse[phase - 1], interval));
            if (value > highest)
            {
                (highest, position) = (value, phase);
            }
        }

        return position;
    }

    private float Value(float[] taps, int interval)
    {
        ReadOnlySpan<float> samples = _window.AsSpan(interval - ((taps.Length / 2) - 1), taps.Length);
        Vector256<float> sum = Vector256<float>.Zero;
        for (int tap = 0; tap < taps.Length; tap += Vector256<float>.Count)
        {
            sum += Vector256.Create(taps.AsSpan(tap)) * Vector256.Create(samples[tap..]);
        }

        return Vector256.Sum(sum);
    }
}
