namespace Station.Audio.Meters;

/// <summary>
/// Finds ticks: moments whose prediction error stands far above its surroundings for no longer than a tick lasts, with quiet on both sides at once. An
/// onset of music is as sudden, but dies away slowly.
/// </summary>
/// <remarks>
/// Errors of <see cref="LinearPredictor"/> are taken from the difference of neighbouring samples, 20 ms at a time, and kept as peaks over pieces of a
/// third of a millisecond. Rates from 80 kHz on are halved first: nothing that a stylus picks up lies up there.
/// </remarks>
internal sealed class TickMeter
{
    // Ticks of both channels within so many pieces of each other, a millisecond, are one.
    private const int SamePieces = 3;

    // Sound that is there from the first sample begins like a tick: the first 5 ms tell nothing.
    private const int FirstPiece = 14;

    private const int HighRateHz = 80_000;

    private readonly int _channels;
    private readonly double _pieceFrames;
    private readonly double _delayFrames;
    private readonly TickChannel[] _lanes;
    private readonly TickCandidate[][] _found;
    private readonly TickList _ticks = new();
    private readonly FaintTicks _faint = new();
    private readonly int _sampleRateHz;
    private readonly List<byte> _usual;
    private long _firstFrame;       // of the step that is judged next
    private int _waiting;           // frames of that step; 0 before the first

    /// <param name="sampleRateHz">Frames per second.</param>
    /// <param name="channels">1 or 2.</param>
    /// <param name="expectedSteps">To make room ahead.</param>
    public TickMeter(int sampleRateHz, int channels, int expectedSteps)
    {
        int halvings = 0;
        while (sampleRateHz >> halvings >= HighRateHz)
        {
            halvings++;
        }

        _channels = channels;
        _sampleRateHz = sampleRateHz;
        _lanes = [.. Enumerable.Range(0, channels).Select(_ => new TickChannel(StepLength.Frames(sampleRateHz), sampleRateHz, halvings))];
        _found = [.. Enumerable.Range(0, channels).Select(_ => new TickCandidate[TickChannel.MostPerStep])];
        _pieceFrames = (double)_lanes[0].PieceSamples * (1 << halvings);
        _delayFrames = HalvingFilter.DelaySamples * ((1 << halvings) - 1);
        _usual = new List<byte>(expectedSteps + 1);
    }

    /// <summary>Adds a step.</summary>
    /// <param name="samples">Interleaved and finite.</param>
    public void Add(ReadOnlySpan<float> samples)
    {
        for (int channel = 0; channel < _channels; channel++)
        {
            _lanes[channel].Add(samples, channel, _channels);
        }

        Judge();
        _waiting = samples.Length / _channels;
    }

    /// <summary>Ends the pass.</summary>
    public TickReading Finish()
    {
        foreach (TickChannel lane in _lanes)
        {
            lane.Advance();
        }

        Judge();
        return new TickReading { Ticks = [.. _ticks.Ticks], ListedEvery = _ticks.KeptEvery, Count = _ticks.Count, UsualCodes = [.. _usual], Faint = _faint };
    }

    private void Judge()
    {
        if (_waiting == 0)
        {
            return;
        }

        int left = _lanes[0].Judge(_found[0]);
        int right = _channels == 2 ? _lanes[1].Judge(_found[1]) : 0;
        _usual.Add(TickReading.CodeOf(_channels == 2 ? Math.Max(_lanes[0].Usually, _lanes[1].Usually) : _lanes[0].Usually));
        ListFaint();
        int l = 0;
        int r = 0;
        while (l < left || r < right)
        {
            TickCandidate? a = l < left ? _found[0][l] : null;
            TickCandidate? b = r < right ? _found[1][r] : null;
            bool both = a is not null && b is not null && Math.Abs(a.Value.Piece - b.Value.Piece) <= SamePieces;
            bool useLeft = both ? a!.Value.Height >= b!.Value.Height : b is null || (a is not null && a.Value.Piece < b.Value.Piece);
            TickCandidate tick = useLeft ? a!.Value : b!.Value;
            l += both || useLeft ? 1 : 0;
            r += both || !useLeft ? 1 : 0;
            if (_firstFrame == 0 && tick.Piece < FirstPiece)
            {
                continue;
            }

            _ticks.Add(new Tick(
                (long)Math.Round(FrameOf(tick.Piece)),
                (float)(20 * Math.Log10(Math.Max(tick.Height, 1e-7f))),
                (float)(20 * Math.Log10(tick.Strength)),
                both || useLeft,
                both || !useLeft));
        }

        _firstFrame += _waiting;
    }

    private double FrameOf(int piece) => _firstFrame + ((piece + 0.5) * _pieceFrames) - _delayFrames;

    // The stronger channel's.
    private void ListFaint()
    {
        TickCandidate? strongest = _lanes[0].Strongest();
        if (_channels == 2 && _lanes[1].Strongest() is { } right && (strongest is null || right.Strength > strongest.Value.Strength))
        {
            strongest = right;
        }

        if (strongest is { } one && (_firstFrame > 0 || one.Piece >= FirstPiece))
        {
            _faint.Add(FrameOf(one.Piece) / _sampleRateHz, one.Height);
        }
    }
}
