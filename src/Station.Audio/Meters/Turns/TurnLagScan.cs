namespace Station.Audio.Meters.Turns;

/// <summary>Looks for the lag, among those a turn may have, at which the last second or so resembles what came before.</summary>
/// <remarks>
/// Works on the lateral motion, differentiated once, from 150 to 500 Hz at about 1.2 kHz, whitened: coarse, but cheap enough to try every lag on
/// everything. What it finds is only a proposal: music repeats too.
/// </remarks>
internal sealed class TurnLagScan
{
    private const double WantedRateHz = 1_200;
    private const double LowHz = 150;
    private const double HighHz = 500;
    private const double TransitionHz = 200;

    /// <summary>Pieces that are looked at together: 1.2 s, long enough for tunes to change and shorter than two turns of a coarse groove.</summary>
    private const int Together = 4;

    private readonly int _factor;
    private readonly float[] _kernel;
    private readonly float[] _input;
    private readonly float[] _low;
    private readonly int _piece;
    private readonly TurnWhitener _whitener = new();
    private readonly int[] _lags;
    private readonly int _longest;
    private readonly float[][] _products;
    private readonly float[][] _energies;
    private readonly float[] _own = new float[Together];
    private readonly double[] _squares;
    private readonly float[] _all;
    private readonly int _filled;
    private int _count;

    /// <param name="rateHz">Rate of what comes in.</param>
    /// <param name="pieceSeconds">About how long a piece is to be; see <see cref="PieceSamples"/>.</param>
    public TurnLagScan(double rateHz, double pieceSeconds)
    {
        _factor = Math.Max(1, (int)Math.Round(rateHz / WantedRateHz));
        RateHz = rateHz / _factor;
        int taps = 8 * (int)Math.Ceiling(3.3 * rateHz / TransitionHz / 8);
        _kernel = [.. WindowedSinc.BandPass(taps, LowHz / rateHz, HighHz / rateHz).Select(h => (float)h)];
        _piece = (int)Math.Round(pieceSeconds * RateHz);
        PieceSamples = _piece * _factor;
        _lags = [.. TurnFamilies.All.SelectMany(family => Between(family.ShortestSeconds, family.LongestSeconds)).Order()];
        _longest = _lags[^1];
        _input = new float[taps - 1 + PieceSamples];
        _filled = taps - 1;
        _low = new float[_longest + _piece];
        _squares = new double[_low.Length + 1];
        _all = new float[_lags.Length];
        _products = [.. Enumerable.Range(0, Together).Select(_ => new float[_lags.Length])];
        _energies = [.. Enumerable.Range(0, Together).Select(_ => new float[_lags.Length])];
    }

    /// <summary>Rate the search works at, Hz.</summary>
    public double RateHz { get; }

    /// <summary>Samples of one piece at the incoming rate.</summary>
    public int PieceSamples { get; }

    /// <summary>Adds one whole piece.</summary>
    /// <param name="lateral"><see cref="PieceSamples"/> samples.</param>
    /// <param name="proposals">Filled with the lags that resemble most, best first; those left over have a correlation of 0.</param>
    public void Add(ReadOnlySpan<float> lateral, Span<TurnLag> proposals)
    {
        Lower(lateral);
        int slot = _count++ % Together;
        int start = _low.Length - _piece;
        ReadOnlySpan<float> now = _low.AsSpan(start);
        _own[slot] = InnerProduct.Of(now, now);
        _squares[0] = 0;
        for (int i = 0; i < _low.Length; i++)
        {
            _squares[i + 1] = _squares[i] + (_low[i] * _low[i]);
        }

        float[] products = _products[slot];
        float[] energies = _energies[slot];
        for (int i = 0; i < _lags.Length; i++)
        {
            int from = start - _lags[i];
            products[i] = InnerProduct.Of(now, _low.AsSpan(from, _piece));
            energies[i] = (float)(_squares[from + _piece] - _squares[from]);
        }

        Choose(proposals);
    }

    private void Lower(ReadOnlySpan<float> lateral)
    {
        lateral.CopyTo(_input.AsSpan(_filled));
        _low.AsSpan(_piece).CopyTo(_low);
        Span<float> into = _low.AsSpan(_low.Length - _piece);
        for (int i = 0; i < into.Length; i++)
        {
            into[i] = InnerProduct.Of(_kernel, _input.AsSpan(i * _factor, _kernel.Length));
        }

        _input.AsSpan(_input.Length - _filled).CopyTo(_input);
        _whitener.Run(into);
    }

    private void Choose(Span<TurnLag> proposals)
    {
        float own = 0;
        foreach (float energy in _own)
        {
            own += energy;
        }

        for (int i = 0; i < _lags.Length; i++)
        {
            float product = 0;
            float energy = 0;
            for (int k = 0; k < Together; k++)
            {
                product += _products[k][i];
                energy += _energies[k][i];
            }

            _all[i] = own * energy > 1e-20f ? product / MathF.Sqrt(own * energy) : 0;
        }

        proposals.Clear();
        for (int i = 1; i < _lags.Length - 1; i++)
        {
            float here = _all[i];
            if (here <= 0 || here < _all[i - 1] || here <= _all[i + 1] || _lags[i + 1] - _lags[i - 1] != 2)
            {
                continue;
            }

            // The crest of the parabola through three values: lags are too coarse for the highest of the band's notes.
            float bend = (2 * here) - _all[i - 1] - _all[i + 1];
            float slope = (_all[i + 1] - _all[i - 1]) / 2;
            float aside = bend > 0 ? slope / bend : 0;
            Insert(proposals, new TurnLag((_lags[i] + aside) / RateHz, here + (slope * aside / 2)));
        }
    }

    private static void Insert(Span<TurnLag> proposals, TurnLag lag)
    {
        for (int i = 0; i < proposals.Length; i++)
        {
            if (lag.Correlation > proposals[i].Correlation)
            {
                (proposals[i], lag) = (lag, proposals[i]);
            }
        }
    }

    private IEnumerable<int> Between(double shortestSeconds, double longestSeconds)
    {
        int first = (int)Math.Floor(shortestSeconds * RateHz);
        return Enumerable.Range(first, (int)Math.Ceiling(longestSeconds * RateHz) - first + 1);
    }
}
