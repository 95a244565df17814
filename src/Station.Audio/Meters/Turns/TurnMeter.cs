

namespace Station.Audio.Meters.Turns;

/// <summary>Finds out where a capture plays again what it played a turn before.</summary>
/// <remarks>
/// In pieces of about 0.3 s: a coarse search proposes a lag among those a turn may have; the piece is laid over what was heard that long before, and what is
/// left, by band, is kept. Whether that makes it the same groove is for a rule to say, which knows the noise of the bare groove. Not for two threads at once.
/// </remarks>
internal sealed class TurnMeter
{
    private const double WantedPieceSeconds = 0.3;

    // Below this the low notes, whitened, do not resemble each other at any lag. The same groove again had 0.55 and more on tuning sides.
    private const float LeastCorrelation = 0.42f;

    // Nor is a lag worth trying that is this much worse than the best (own choice).
    private const float WorthTrying = 0.6f;

    // What is not alike at all, however it is laid, needs no spectra. The same groove reaches 0.8 even when the noise that is new is half as strong as what returns.
    private const float LeastAlike = 0.5f;

    // Held notes resemble themselves at many lags: so many are tried.
    private const int Proposals = 5;

    // How far a proposal may be off: half a step of the search, and what the stylus misses its old place by (own choice).
    private const double AsideSeconds = 0.0005;

    // Two lags of one turn differ by less: the stylus misses its old place by a fraction of this (own choice).
    private const double OtherLagSeconds = 0.0015;

    // A lag that fitted is tried for this many pieces more, whatever the search proposes.
    private const int Patience = 14;

    private readonly TurnDecimator _decimator;
    private readonly TurnLagScan _scan;
    private readonly TurnComparer _comparer;
    private readonly float[] _lateral;
    private readonly float[] _vertical;
    private readonly float[] _lateralChange;
    private readonly float[] _verticalChange;
    private readonly float[] _stepLateral;
    private readonly float[] _stepVertical;
    private readonly List<TurnCells> _powers;
    private readonly List<TurnRepeat> _repeats = [];
    private readonly TurnLag[] _proposals = new TurnLag[Proposals + 1];
    private float _lastLateral;
    private float _lastVertical;
    private int _filled;
    private double _knownLag;
    private int _knownUntil;

    /// <param name="sampleRateHz">Frames per second, at least 8,000.</param>
    /// <param name="channels">1 or 2.</param>
    /// <param name="expectedFrames">To make room ahead; 0 and up.</param>
    public TurnMeter(int sampleRateHz, int channels, long expectedFrames)
    {
        _decimator = new TurnDecimator(sampleRateHz, channels);
        _scan = new TurnLagScan(_decimator.RateHz, WantedPieceSeconds);
        int piece = _scan.PieceSamples;
        _comparer = new TurnComparer(_decimator.RateHz, piece, (int)Math.Ceiling(_decimator.RateHz * AsideSeconds));
        _lateral = new float[piece];
        _vertical = new float[piece];
        _lateralChange = new float[piece];
        _verticalChange = new float[piece];
        int room = (int)(_decimator.RateHz / 10) + 2;
        _stepLateral = new float[room];
        _stepVertical = new float[room];
        _powers = new List<TurnCells>((int)Math.Clamp((expectedFrames / ((long)piece * _decimator.Factor)) + 1, 0, 100_000));
    }

    /// <summary>Adds whole frames, at most 50 ms of them.</summary>
    /// <param name="samples">Interleaved and finite.</param>
    public void Add(ReadOnlySpan<float> samples)
    {
        int count = _decimator.Run(samples, _stepLateral, _stepVertical);
        for (int from = 0; from < count;)
        {
            int part = Math.Min(count - from, _lateral.Length - _filled);
            _stepLateral.AsSpan(from, part).CopyTo(_lateral.AsSpan(_filled));
            _stepVertical.AsSpan(from, part).CopyTo(_vertical.AsSpan(_filled));
            _filled += part;
            from += part;
            if (_filled == _lateral.Length)
            {
                EndPiece();
                _filled = 0;
            }
        }
    }

    /// <summary>Ends the pass. What is left of a piece is not looked at.</summary>
    public TurnReading Finish() => new()
    {
        PieceSeconds = _scan.PieceSamples / _decimator.RateHz,
        Powers = [.. _powers],
        Repeats = [.. _repeats],
    };

    private void EndPiece()
    {
        _lastLateral = Change(_lateral, _lateralChange, _lastLateral);
        _lastVertical = Change(_vertical, _verticalChange, _lastVertical);
        _comparer.Add(_lateralChange, _verticalChange);
        int piece = _powers.Count;
        _powers.Add(_comparer.Powers());
        _scan.Add(_lateralChange, _proposals);
        int tried = 0;
        while (tried < Proposals && _proposals[tried].Correlation >= Math.Max(LeastCorrelation, WorthTrying * _proposals[0].Correlation))
        {
            tried++;
        }

        _proposals[tried] = new TurnLag(_knownLag, _proposals[0].Correlation);
        bool found = TryAdd(piece, 0, _proposals.AsSpan(0, tried + (piece <= _knownUntil ? 1 : 0)));
        if (!found)
        {
            return;
        }

        double lag = _repeats[^1].LagSeconds;
        if (piece > _knownUntil || Math.Abs(lag - _knownLag) > OtherLagSeconds)
        {
            LookBack(piece, new TurnLag(lag, _repeats[^1].Correlation));
        }

        _knownLag = lag;
        _knownUntil = piece + Patience;
    }

    // The search needs a while to see it: what was passed over, or taken for another lag, when a new one comes up is looked at again.
    private void LookBack(int piece, TurnLag lag)
    {
        TurnRepeat last = _repeats[^1];
        int first = _repeats.Count - 1;
        while (first > 0 && _repeats[first - 1].Piece > piece - TurnComparer.PiecesBack)
        {
            first--;
        }

        Span<TurnLag> lags = stackalloc TurnLag[2 * TurnComparer.PiecesBack];
        lags.Clear();
        for (int i = first; i < _repeats.Count - 1; i++)
        {
            lags[(2 * (piece - _repeats[i].Piece)) + 1] = new TurnLag(_repeats[i].LagSeconds, _repeats[i].Correlation);
        }

        _repeats.RemoveRange(first, _repeats.Count - first);
        for (int back = Math.Min(piece, TurnComparer.PiecesBack - 1); back > 0; back--)
        {
            lags[2 * back] = lag;
            TryAdd(piece - back, back, lags.Slice(2 * back, lags[(2 * back) + 1].Seconds > 0 ? 2 : 1));
        }

        _repeats.Add(last);
    }

    private bool TryAdd(int piece, int back, ReadOnlySpan<TurnLag> proposals)
    {
        float best = LeastAlike;
        int whole = 0;
        float correlation = 0;
        foreach (TurnLag proposal in proposals)
        {
            float alike = _comparer.Align(back, proposal.Seconds, out int lag);
            if (alike > best)
            {
                (best, whole, correlation) = (alike, lag, proposal.Correlation);
            }
        }

        if (whole == 0)
        {
            return false;
        }

        (double seconds, TurnCells powers, TurnCells differences) = _comparer.Compare(back, whole);
        _repeats.Add(new TurnRepeat(piece, (float)seconds, correlation, powers, differences));
        return true;
    }

    private static float Change(ReadOnlySpan<float> from, Span<float> into, float last)
    {
        for (int i = 0; i < from.Length; i++)
        {
            into[i] = from[i] - last;
            last = from[i];
        }

        return last;
    }
}
