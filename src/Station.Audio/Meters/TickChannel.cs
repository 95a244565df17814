using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>The ticks of one channel, a step late: what follows decides as much as what went before.</summary>
internal sealed class TickChannel
{
    /// <summary>Most ticks of a step; more is not ticks.</summary>
    public const int MostPerStep = 6;

    /// <summary>
    /// How far a tick stands above the usual error around it. 14 dB above the median of peaks over a third of a millisecond is about ten standard
    /// deviations of normal noise (computed: that median is 2 σ); Godsill and Rayner put the threshold at K σ, from memory 3 to 5, for repair. Own choice: few
    /// that are certain.
    /// </summary>
    public const float LeastStrength = 5;

    /// <summary>
    /// How far a fainter one stands above the usual error, for rows that come back once per turn: 7.6 dB, about 4.8 standard deviations of normal noise by
    /// the same reckoning, less than one in two seconds by chance. Alone it says nothing. Own choice.
    /// </summary>
    public const float LeastFaint = 2.4f;

    // Pieces per second. A third of a millisecond is about as long as a tick's own beginning.
    private const int PiecesPerSecond = 2_800;

    // Nothing is called a tick below −100 dB re full scale: dither and rounding. Own choice.
    private const float Floor = 1e-5f;

    // A tick is the strongest of 1.4 ms either side.
    private const int AloneReach = 4;

    // What lies 0.7 to 4.3 ms before must be quiet already, and what follows after 2.5 to 8 ms quiet again: 24 dB below the tick, or nothing unusual.
    // A drum's stick, a castanet, a clap die away over 5 to 50 ms (own choice; from memory of such sounds).
    private const int BeforeNear = 2;
    private const int BeforeFar = 12;
    private const int BehindNear = 7;
    private const int BehindFar = 22;
    private const float QuietAgain = 1f / 16;
    private const float Usual = 1.7f;

    // A fainter one has its half at most before it and behind it.
    private const float HalfAgain = 0.5f;

    // The wave is followed over a millisecond either side of a tick: slower movement is rumble or music.
    private const int HeightReach = 3;

    private readonly int _halvings;
    private readonly HalvingFilter[] _halving;
    private readonly LinearPredictor _predictor = new();
    private readonly float[] _raw;
    private readonly float[] _wave;         // of the newest step, behind the last sample of the one before it
    private float[] _earlier;               // differences of the step before the judged one, behind as many as the predictor needs
    private float[] _judged;                // of the judged one
    private float[] _samples;               // of the one behind it
    private int _earlierCount;
    private int _judgedCount;
    private int _sampleCount;
    private readonly float[] _missed;
    private readonly float[] _peaks;        // of three steps: before, judged, behind
    private readonly float[] _medians = new float[3];
    private readonly int _pieces;
    private readonly int _whole;            // samples of a whole step; a short last one tells too little of itself

    public TickChannel(int stepFrames, int sampleRateHz, int halvings)
    {
        _halvings = halvings;
        _halving = [.. Enumerable.Range(0, halvings).Select(_ => new HalvingFilter())];
        PieceSamples = Math.Max(3, (int)Math.Round((double)(sampleRateHz >> halvings) / PiecesPerSecond));
        int most = (stepFrames >> halvings) + 2;
        _whole = stepFrames >> halvings;
        _pieces = Math.Max(1, (stepFrames >> halvings) / PieceSamples);
        _raw = new float[stepFrames + 2];
        _wave = new float[stepFrames + 1];
        _samples = new float[most + LinearPredictor.Order];
        _judged = new float[_samples.Length];
        _earlier = new float[_samples.Length];
        _missed = new float[most];
        _peaks = new float[3 * _pieces];
    }

    /// <summary>Samples of a piece, after halving.</summary>
    public int PieceSamples { get; }

    /// <summary>The usual prediction error in the step that was judged last, full scale 1.</summary>
    public float Usually => _medians[1];

    /// <summary>Takes the next step of one channel.</summary>
    /// <param name="samples">Interleaved.</param>
    /// <param name="channel">Which of them.</param>
    /// <param name="channels">How many there are.</param>
    public void Add(ReadOnlySpan<float> samples, int channel, int channels)
    {
        Advance();
        int count = Take(samples, channel, channels);
        _sampleCount = count;
        if (count >= Math.Max(3 * LinearPredictor.Order, _whole / 2))
        {
            _predictor.Run(_samples.AsSpan(0, LinearPredictor.Order + count), _missed.AsSpan(0, count));
            Span<float> fresh = _peaks.AsSpan(2 * _pieces);
            Peaks(_missed.AsSpan(0, count), fresh);
            _medians[2] = Median(fresh);
        }
    }

    /// <summary>Lets the last step become the judged one.</summary>
    public void Advance()
    {
        _peaks.AsSpan(_pieces).CopyTo(_peaks);
        _peaks.AsSpan(2 * _pieces).Clear();
        (_medians[0], _medians[1], _medians[2]) = (_medians[1], _medians[2], 0);
        (_earlier, _judged, _samples) = (_judged, _samples, _earlier);
        (_earlierCount, _judgedCount) = (_judgedCount, _sampleCount);
        _sampleCount = 0;
        _judged.AsSpan(_judgedCount, LinearPredictor.Order).CopyTo(_samples);
    }

    /// <summary>Finds the ticks of the step before the last one.</summary>
    /// <param name="found">Room for <see cref="MostPerStep"/>.</param>
    /// <returns>How many.</returns>
    public int Judge(Span<TickCandidate> found)
    {
        float usual = Math.Max(Math.Max(_medians[0], _medians[1]), Math.Max(_medians[2], Floor));
        float least = LeastStrength * usual;
        int count = 0;
        for (int i = _pieces; i < 2 * _pieces && count < MostPerStep; i++)
        {
            float peak = _peaks[i];
            if (peak < least || !Alone(i, peak))
            {
                continue;
            }

            float quiet = Math.Max(Usual * usual, QuietAgain * peak);
            if (MedianOf(i - BeforeFar, i - BeforeNear) <= quiet && MedianOf(i + BehindNear, i + BehindFar) <= quiet)
            {
                found[count++] = new TickCandidate(i - _pieces, Height(i - _pieces), peak / usual);
                i += AloneReach;
            }
        }

        return count;
    }

    /// <summary>Finds the strongest impulse of the step before the last one, <see cref="Judge"/>'s ticks and fainter ones alike.</summary>
    /// <returns>null when none stands out.</returns>
    public TickCandidate? Strongest()
    {
        float usual = Math.Max(Math.Max(_medians[0], _medians[1]), Math.Max(_medians[2], Floor));
        float most = LeastFaint * usual;
        int at = -1;
        for (int i = _pieces; i < 2 * _pieces; i++)
        {
            if (_peaks[i] > most
                && MedianOf(i - BeforeFar, i - BeforeNear) <= HalfAgain * _peaks[i]
                && MedianOf(i + BehindNear, i + BehindFar) <= HalfAgain * _peaks[i]
                && Alone(i, _peaks[i]))
            {
                (at, most) = (i, _peaks[i]);
            }
        }

        return at < 0 ? null : new TickCandidate(at - _pieces, Height(at - _pieces), _peaks[at] / usual);
    }

    // How far the wave leaves the middle between where it was before the tick and where it is behind it.
    private float Height(int piece)
    {
        int from = (piece - HeightReach) * PieceSamples;
        int to = (piece + HeightReach + 1) * PieceSamples;
        float wave = 0;
        float high = 0;
        float low = 0;
        for (int i = from; i < to; i++)
        {
            wave += Difference(i);
            high = Math.Max(high, wave);
            low = Math.Min(low, wave);
        }

        float middle = wave / 2;
        return Math.Max(high - middle, middle - low);
    }

    // Counted from the judged step's first sample; nothing moves before the capture and behind it.
    private float Difference(int i)
    {
        (float[] step, int at, int count) = i < 0 ? (_earlier, i + _earlierCount, _earlierCount)
            : i < _judgedCount ? (_judged, i, _judgedCount)
            : (_samples, i - _judgedCount, _sampleCount);
        return at < 0 || at >= count ? 0 : step[at + LinearPredictor.Order];
    }

    private int Take(ReadOnlySpan<float> samples, int channel, int channels)
    {
        int frames = samples.Length / channels;
        Span<float> raw = _halvings == 0 ? _samples.AsSpan(LinearPredictor.Order) : _raw;
        float scale = 1 << _halvings;       // so that the differences that are kept still add up to the wave
        Span<float> wave = _wave.AsSpan(0, frames + 1);
        SampleScan.CopyChannel(samples, channels, channel, wave[1..]);
        Differences(wave, scale, raw);
        wave[0] = wave[frames];
        for (int k = 0; k < _halvings; k++)
        {
            Span<float> to = k == _halvings - 1 ? _samples.AsSpan(LinearPredictor.Order) : _raw;
            frames = _halving[k].Run(_raw.AsSpan(0, frames), to);
        }

        return frames;
    }

    // Plainly: differences[i] = scale · (wave[i + 1] − wave[i]).
    private static void Differences(ReadOnlySpan<float> wave, float scale, Span<float> differences)
    {
        int count = wave.Length - 1;
        int i = 0;
        for (; i + Vector256<float>.Count <= count; i += Vector256<float>.Count)
        {
            (scale * (Vector256.Create(wave[(i + 1)..]) - Vector256.Create(wave[i..]))).CopyTo(differences[i..]);
        }

        for (; i < count; i++)
        {
            differences[i] = scale * (wave[i + 1] - wave[i]);
        }
    }

    private void Peaks(ReadOnlySpan<float> missed, Span<float> peaks)
    {
        for (int piece = 0; piece < peaks.Length; piece++)
        {
            int from = piece * PieceSamples;
            if (from >= missed.Length)
            {
                return;
            }

            int to = piece == peaks.Length - 1 ? missed.Length : Math.Min(from + PieceSamples, missed.Length);
            peaks[piece] = Max(missed[from..to]);
        }
    }

    private static float Max(ReadOnlySpan<float> values)
    {
        int i = 0;
        float max = 0;
        if (values.Length >= 8)
        {
            ref float first = ref MemoryMarshal.GetReference(values);
            Vector256<float> most = Vector256<float>.Zero;
            for (; i + 8 <= values.Length; i += 8)
            {
                most = Vector256.Max(most, Vector256.LoadUnsafe(ref first, (nuint)i));
            }

            Vector128<float> half = Vector128.Max(most.GetLower(), most.GetUpper());
            max = Math.Max(Math.Max(half[0], half[1]), Math.Max(half[2], half[3]));
        }

        for (; i < values.Length; i++)
        {
            max = Math.Max(max, values[i]);
        }

        return max;
    }

    private bool Alone(int at, float peak)
    {
        for (int i = Math.Max(0, at - AloneReach); i <= Math.Min(_peaks.Length - 1, at + AloneReach); i++)
        {
            if (_peaks[i] > peak || (_peaks[i] == peak && i < at))
            {
                return false;
            }
        }

        return true;
    }

    // Neighbours of three steps; what lies beyond them is left out.
    private float MedianOf(int from, int to)
    {
        from = Math.Max(0, from);
        to = Math.Min(_peaks.Length, to);
        return from >= to ? 0 : Median(_peaks.AsSpan(from, to - from));
    }

    private static float Median(ReadOnlySpan<float> values) => RankSelection.OfMagnitudes(values, values.Length / 2);
}
