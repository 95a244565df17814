using System.Collections.Immutable;

namespace Station.Audio.Meters;

/// <summary>Collects the tops of one channel's wave, of both polarities: at which level each stops, and whether it is flat in time.</summary>
/// <remarks>
/// <para>
/// A stage that ran out of its supply cuts the wave at one level. Wherever that level is, and whatever gain or converter came behind it,
/// what it leaves is short stretches that hardly move between slopes that do. A top is the highest stretch of the wave above
/// <see cref="Floor"/> of the recent peak. Let w1 be how long it stays within <see cref="Near"/> of its height and w2 within
/// <see cref="Far"/>. For a parabola, as every smooth top is when seen closely enough, w1/w2 is the root of the ratio of the two, 0.41, at any
/// frequency and level; for a sine cut by 0.1 dB it is 0.55, by 0.5 dB 0.76, by 1 dB 0.85, by 3 dB 0.94 (computed). It is called flat from
/// <see cref="FlatShare"/> up, where a sine cut by a quarter of a decibel lies, and from a tenth of a millisecond.
/// </para>
/// <para>
/// Near full scale three samples of one value in a row are enough: a converter that stops short of its largest code makes those.
/// </para>
/// <para>
/// Tops that straddle two steps are left out: about one in twenty of those that last a millisecond, and none that matters to where the first is.
/// </para>
/// </remarks>
internal sealed class FlatTopMeter
{
    /// <summary>Only what lies above this share of the recent peak can be a top. Own choice: below one cut by 6 dB on one side.</summary>
    private const float Floor = 0.45f;

    /// <summary>Within 0.087 dB: seven times the noise of −78 dBFS at a ceiling of −21 dBFS (computed).</summary>
    private const float Near = 0.01f;

    private const float Far = 0.06f;

    private const double FlatShare = 0.66;

    // A sine cut by 10 dB reaches 0.89 (computed), a square wave in a band of 20 kHz more than 0.95 below 1 kHz.
    private const double SquareShare = 0.92;

    // −1 dBFS: where a converter's own ceiling may lie. Own choice.
    private const float ConverterReach = 0.891f;

    // As for runs at full scale: the rule of thumb for one "over" (common practice, no source).
    private const int ShortestSame = 3;

    /// <summary>Below this there is no music worth judging; −60 dBFS.</summary>
    private const float Silence = 0.001f;

    // Half-life about 8 s: a needle drop is forgotten soon, a bar of rest is not. Own choice.
    private const float DecayPerStep = 0.9983f;

    private readonly int _channel;
    private readonly int _shortest;
    private readonly float[] _samples;
    private readonly int[][] _tops = [new int[FlatTopReading.Bins], new int[FlatTopReading.Bins]];
    private readonly int[][] _flat = [new int[FlatTopReading.Bins], new int[FlatTopReading.Bins]];
    private readonly FlatTopList[] _places = [new(), new()];
    private readonly float[] _recent = new float[2];

    public FlatTopMeter(int channel, int sampleRateHz)
    {
        _channel = channel;
        _shortest = Math.Max(3, sampleRateHz / 10_000);
        _samples = new float[StepLength.Frames(sampleRateHz)];
    }

    /// <summary>Adds one step of this channel.</summary>
    /// <param name="samples">Interleaved, finite.</param>
    /// <param name="channels">Samples of one frame.</param>
    /// <param name="firstFrame">Frame of the step's first sample.</param>
    /// <param name="peak">Largest magnitude of this channel in the step.</param>
    public void Add(ReadOnlySpan<float> samples, int channels, long firstFrame, float peak)
    {
        _recent[0] *= DecayPerStep;
        _recent[1] *= DecayPerStep;
        if (peak < Silence || peak < Floor * Math.Min(_recent[0], _recent[1]))
        {
            return;
        }

        Span<float> wave = _samples.AsSpan(0, samples.Length / channels);
        float high = 0;
        float low = 0;
        for (int i = 0, from = _channel; i < wave.Length; i++, from += channels)
        {
            float sample = samples[from];
            wave[i] = sample;
            high = Math.Max(high, sample);
            low = Math.Min(low, sample);
        }

        AddPolarity(wave, 0, 1, high, firstFrame);
        AddPolarity(wave, 1, -1, -low, firstFrame);
    }

    /// <summary>Ends the capture.</summary>
    public ImmutableArray<FlatTopReading> Finish() =>
    [
        .. Enumerable.Range(0, 2).Select(polarity => new FlatTopReading
        {
            Channel = _channel,
            Positive = polarity == 0,
            Tops = [.. _tops[polarity]],
            FlatTops = [.. _flat[polarity]],
            Places = [.. _places[polarity].Places],
        }),
    ];

    private void AddPolarity(ReadOnlySpan<float> wave, int polarity, float sign, float peak, long firstFrame)
    {
        ref float recent = ref _recent[polarity];
        recent = Math.Max(recent, peak);
        float floor = Math.Max(Silence, Floor * recent);
        if (peak < floor)
        {
            return;
        }

        for (int i = 0; i < wave.Length; i++)
        {
            if (sign * wave[i] < floor)
            {
                continue;
            }

            int first = i;
            int highest = i;
            float top = sign * wave[i];
            for (i++; i < wave.Length; i++)
            {
                float value = sign * wave[i];
                if (value < floor)
                {
                    break;
                }

                if (value > top)
                {
                    top = value;
                    highest = i;
                }
            }

            if (first > 0 && i < wave.Length)
            {
                AddTop(wave, polarity, sign, highest, top, firstFrame);
            }
        }
    }

    private void AddTop(ReadOnlySpan<float> wave, int polarity, float sign, int highest, float top, long firstFrame)
    {
        (int first, int end, double near) = Width(wave, sign, highest, top * (1 - Near));
        int bin = FlatTopReading.BinOf(top);
        (int sameFirst, int same) = top >= ConverterReach ? SameAround(wave, highest) : (highest, 1);
        if (end - first >= _shortest || same >= ShortestSame)
        {
            (int outer, int outerEnd, double far) = Width(wave, sign, highest, top * (1 - Far));
            bool flat = same >= ShortestSame || (outer > 0 && outerEnd < wave.Length && near >= FlatShare * far);
            if (flat && HasShoulders(wave, sign, highest, top, near))
            {
                (first, end) = same >= ShortestSame ? (sameFirst, sameFirst + same) : (first, end);
                bin = AddFlat(wave[first..end], polarity, sign, firstFrame + first, same);
            }
        }

        _tops[polarity][bin]++;
    }

    private static (int First, int Count) SameAround(ReadOnlySpan<float> wave, int highest)
    {
        // The highest is the first of its value: none before it is the same.
        int end = highest + 1;
        while (end < wave.Length && wave[end] == wave[highest])
        {
            end++;
        }

        return (highest, end - highest);
    }

    // Music that was cut has slopes on the way up; a square wave is as wide half-way up as at its top, and was meant so.
    private static bool HasShoulders(ReadOnlySpan<float> wave, float sign, int highest, float top, double near) =>
        near < SquareShare * Width(wave, sign, highest, top / 2).Width;

    private int AddFlat(ReadOnlySpan<float> flat, int polarity, float sign, long firstFrame, int same)
    {
        double sum = 0;
        float lowest = float.MaxValue;
        float highest = 0;
        foreach (float sample in flat)
        {
            float value = sign * sample;
            sum += value;
            lowest = Math.Min(lowest, value);
            highest = Math.Max(highest, value);
        }

        FlatTop top = new(firstFrame, flat.Length, (float)(sum / flat.Length), highest - lowest, same);
        int bin = FlatTopReading.BinOf(top.Level);
        _flat[polarity][bin]++;
        _places[polarity].Add(top);
        return bin;
    }

    // The samples around the highest that stay above a level, and the time between the crossings by straight lines, in samples.
    private static (int First, int End, double Width) Width(ReadOnlySpan<float> wave, float sign, int highest, float level)
    {
        int first = highest;
        while (first > 0 && sign * wave[first - 1] >= level)
        {
            first--;
        }

        int end = highest + 1;
        while (end < wave.Length && sign * wave[end] >= level)
        {
            end++;
        }

        double width = end - 1 - first;
        if (first > 0)
        {
            width += Crossing(sign * wave[first], sign * wave[first - 1], level);
        }

        if (end < wave.Length)
        {
            width += Crossing(sign * wave[end - 1], sign * wave[end], level);
        }

        return (first, end, width);
    }

    private static double Crossing(float inside, float outside, float level) => (inside - level) / Math.Max(1e-9, inside - outside);
}
