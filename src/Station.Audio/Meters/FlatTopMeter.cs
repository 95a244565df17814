using System.Collections.Immutable;
using System.Runtime.Intrinsics;

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
    /// <summary>Only what lies above this share of the polarity's recent peak is looked at: 3.1 dB, all that the rule compares.</summary>
    private const float Floor = 0.7f;

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

    // Half-life about 20 s: a loud needle drop is forgotten within a minute, a quiet verse is not looked at. Own choice.
    private const float DecayPerStep = 0.9993f;

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
    /// <param name="pieces">Largest magnitude of this channel in each of equal pieces of the step.</param>
    public void Add(ReadOnlySpan<float> samples, int channels, long firstFrame, ReadOnlySpan<float> pieces)
    {
        _recent[0] *= DecayPerStep;
        _recent[1] *= DecayPerStep;
        float least = Math.Max(Silence, Floor * Math.Min(_recent[0], _recent[1]));
        bool loud = false;
        foreach (float piece in pieces)
        {
            loud |= piece >= least;
        }

        if (!loud)
        {
            return;
        }

        Span<float> wave = _samples.AsSpan(0, samples.Length / channels);
        for (int i = 0, from = _channel; i < wave.Length; i++, from += channels)
        {
            wave[i] = samples[from];
        }

        float high = 0;
        float low = 0;
        for (int piece = 0; piece < pieces.Length; piece++)
        {
            if (pieces[piece] >= least)
            {
                (float lowest, float highest) = Extremes(wave[Start(piece, pieces, wave)..Start(piece + 1, pieces, wave)]);
                low = Math.Min(low, lowest);
                high = Math.Max(high, highest);
            }
        }

        // The lower half is turned over and treated as the upper one.
        AddPolarity(wave, pieces, 0, high, firstFrame);
        if (-low >= Floor * _recent[1])
        {
            Negate(wave);
            AddPolarity(wave, pieces, 1, -low, firstFrame);
        }
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

    private static (float Lowest, float Highest) Extremes(ReadOnlySpan<float> samples)
    {
        Vector256<float> low = Vector256<float>.Zero;
        Vector256<float> high = Vector256<float>.Zero;
        int i = 0;
        for (; i <= samples.Length - Vector256<float>.Count; i += Vector256<float>.Count)
        {
            var vector = Vector256.Create(samples[i..]);
            low = Vector256.Min(low, vector);
            high = Vector256.Max(high, vector);
        }

        float lowest = 0;
        float highest = 0;
        for (int lane = 0; lane < Vector256<float>.Count; lane++)
        {
            lowest = Math.Min(lowest, low[lane]);
            highest = Math.Max(highest, high[lane]);
        }

        for (; i < samples.Length; i++)
        {
            lowest = Math.Min(lowest, samples[i]);
            highest = Math.Max(highest, samples[i]);
        }

        return (lowest, highest);
    }

    private static void Negate(Span<float> wave)
    {
        foreach (ref float sample in wave)
        {
            sample = -sample;
        }
    }

    private static int NextAbove(ReadOnlySpan<float> wave, int from, int end, float floor)
    {
        Vector256<float> limit = Vector256.Create(floor);
        while (from <= end - Vector256<float>.Count && !Vector256.GreaterThanOrEqualAny(Vector256.Create(wave[from..]), limit))
        {
            from += Vector256<float>.Count;
        }

        while (from < end && wave[from] < floor)
        {
            from++;
        }

        return from;
    }

    private static int Start(int piece, ReadOnlySpan<float> pieces, ReadOnlySpan<float> wave) => wave.Length * piece / pieces.Length;

    private void AddPolarity(ReadOnlySpan<float> wave, ReadOnlySpan<float> pieces, int polarity, float peak, long firstFrame)
    {
        ref float recent = ref _recent[polarity];
        recent = Math.Max(recent, peak);
        float floor = Math.Max(Silence, Floor * recent);
        if (peak < floor)
        {
            return;
        }

        int next = 0;
        for (int piece = 0; piece < pieces.Length; piece++)
        {
            if (pieces[piece] < floor)
            {
                continue;
            }

            int end = Start(piece + 1, pieces, wave);
            for (int i = Math.Max(next, Start(piece, pieces, wave)); i < end; i++)
            {
                i = NextAbove(wave, i, end, floor);
                if (i < end)
                {
                    i = AddExcursion(wave, i, polarity, floor, firstFrame);
                }

                next = i + 1;
            }
        }
    }

    // From the first sample above the floor to the first below it, which may lie in a later piece.
    private int AddExcursion(ReadOnlySpan<float> wave, int first, int polarity, float floor, long firstFrame)
    {
        int highest = first;
        float top = wave[first];
        int i = first + 1;
        for (; i < wave.Length; i++)
        {
            float value = wave[i];
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
            AddTop(wave, polarity, highest, top, firstFrame);
        }

        return i;
    }

    private void AddTop(ReadOnlySpan<float> wave, int polarity, int highest, float top, long firstFrame)
    {
        (int first, int end, double near) = Width(wave, highest, top * (1 - Near));
        int bin = FlatTopReading.BinOf(top);
        (int sameFirst, int same) = top >= ConverterReach ? SameAround(wave, highest) : (highest, 1);
        if (end - first >= _shortest || same >= ShortestSame)
        {
            (int outer, int outerEnd, double far) = Width(wave, highest, top * (1 - Far));
            bool flat = same >= ShortestSame || (outer > 0 && outerEnd < wave.Length && near >= FlatShare * far);
            if (flat && HasShoulders(wave, highest, top, near))
            {
                (first, end) = same >= ShortestSame ? (sameFirst, sameFirst + same) : (first, end);
                bin = AddFlat(wave[first..end], polarity, firstFrame + first, same);
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
    private static bool HasShoulders(ReadOnlySpan<float> wave, int highest, float top, double near) =>
        near < SquareShare * Width(wave, highest, top / 2).Width;

    private int AddFlat(ReadOnlySpan<float> flat, int polarity, long firstFrame, int same)
    {
        double sum = 0;
        float lowest = float.MaxValue;
        float highest = 0;
        foreach (float sample in flat)
        {
            float value = sample;
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
    private static (int First, int End, double Width) Width(ReadOnlySpan<float> wave, int highest, float level)
    {
        int first = highest;
        while (first > 0 && wave[first - 1] >= level)
        {
            first--;
        }

        int end = highest + 1;
        while (end < wave.Length && wave[end] >= level)
        {
            end++;
        }

        double width = end - 1 - first;
        if (first > 0)
        {
            width += Crossing(wave[first], wave[first - 1], level);
        }

        if (end < wave.Length)
        {
            width += Crossing(wave[end - 1], wave[end], level);
        }

        return (first, end, width);
    }

    private static double Crossing(float inside, float outside, float level) => (inside - level) / Math.Max(1e-9, inside - outside);
}
