namespace Station.Audio.Identity;

/// <summary>
/// Makes the fingerprint of a capture's programme in one pass: ten words a second, each bit the sign of how the balance of two
/// neighbouring bands changed over a quarter of a second.
/// </summary>
/// <remarks>Not for two threads at once. Depends on the samples alone, not on the portions they come in.</remarks>
internal sealed class ProgrammeMeter
{
    /// <summary>Moments a word looks at, weighted so that a take that began half a moment later still gives nearly the same word.</summary>
    private static readonly float[] Window = [1, 2, 3, 3, 2, 1];

    /// <summary>Moments between the two balances that are compared.</summary>
    private const int Lag = 3;

    private const int Kept = 16;     // moments kept, at least Window + Lag; a power of two

    private readonly int _rateHz;
    private readonly Decimator _decimator;
    private readonly BandPowers _bands;
    private readonly float[] _low;
    private readonly float[] _powers = new float[Kept * ProgrammeBands.Count];
    private readonly float[] _now = new float[ProgrammeBands.Count];
    private readonly float[] _then = new float[ProgrammeBands.Count];
    private readonly List<ushort> _words;
    private readonly List<float> _level;
    private long _taken;            // decimated samples so far
    private long _momentStart;
    private int _moments;

    /// <param name="sampleRateHz">Frames per second, at least 8,000.</param>
    /// <param name="channels">1 or 2; mixed to one.</param>
    /// <param name="expectedFrames">To make room ahead; 0 and up.</param>
    public ProgrammeMeter(int sampleRateHz, int channels, long expectedFrames)
    {
        _rateHz = sampleRateHz;
        _decimator = new Decimator(sampleRateHz, channels);
        _bands = new BandPowers(_decimator.RateHz);
        _low = new float[(sampleRateHz / _decimator.Factor / 10) + 2];
        int room = (int)Math.Clamp((expectedFrames * ProgrammeFingerprint.WordsPerSecond / sampleRateHz) + 1, 0, ProgrammeFingerprint.MaxWords);
        _words = new List<ushort>(room);
        _level = new List<float>(room);
    }

    /// <summary>Samples per second of what <see cref="Add"/> gives back, 5.1 to 8 kHz.</summary>
    public double LowRateHz => _decimator.RateHz;

    /// <summary>Adds whole frames, at most 50 ms of them.</summary>
    /// <param name="samples">Interleaved and finite.</param>
    /// <returns>What they became, mixed to one channel at <see cref="LowRateHz"/>; valid until the next call.</returns>
    public ReadOnlySpan<float> Add(ReadOnlySpan<float> samples)
    {
        ReadOnlySpan<float> low = _low.AsSpan(0, _decimator.Run(samples, _low));
        ReadOnlySpan<float> all = low;
        while (!low.IsEmpty)
        {
            // Counted from the first sample, so that moments stay in step with time whatever the rate.
            long end = (_moments + 1L) * _rateHz / ((long)ProgrammeFingerprint.WordsPerSecond * _decimator.Factor);
            int count = (int)Math.Min(end - _taken, low.Length);
            _bands.Add(low[..count]);
            low = low[count..];
            _taken += count;
            if (_taken == end)
            {
                EndMoment();
            }
        }

        return all;
    }

    /// <summary>Ends the pass.</summary>
    public ProgrammeFingerprint Finish() => ProgrammeFingerprint.Of([.. _words], ProgrammeGate.Passes(_level.ToArray()));

    private void EndMoment()
    {
        Span<float> powers = Moment(_moments);
        _bands.Take(powers);
        float scale = 1f / (_taken - _momentStart);      // means: a moment may be a sample longer than its neighbour
        foreach (ref float power in powers)
        {
            power *= scale;
        }

        _momentStart = _taken;
        _moments++;
        if (_words.Count == ProgrammeFingerprint.MaxWords)
        {
            return;
        }

        Balance(_moments - 1, _now);
        Balance(_moments - 1 - Lag, _then);
        int word = 0;
        float level = _now[0];
        for (int bit = 0; bit < ProgrammeFingerprint.BitsPerWord; bit++)
        {
            level += _now[bit + 1];
            if (_now[bit] - _now[bit + 1] > _then[bit] - _then[bit + 1])
            {
                word |= 1 << bit;
            }
        }

        _words.Add((ushort)word);
        _level.Add(level / Window.Sum());
    }

    private Span<float> Moment(int moment) => _powers.AsSpan((moment & (Kept - 1)) * ProgrammeBands.Count, ProgrammeBands.Count);

    private void Balance(int last, Span<float> sums)
    {
        sums.Clear();
        for (int k = 0; k < Window.Length && last - k >= 0; k++)
        {
            ReadOnlySpan<float> powers = Moment(last - k);
            for (int band = 0; band < sums.Length; band++)
            {
                sums[band] += Window[k] * powers[band];
            }
        }
    }
}
