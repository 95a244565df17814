namespace Station.Audio.Meters.Turns;

/// <summary>Looks for the lag, among those a turn may have, at which the last second or so resembles what came before.</summary>
/// <remarks>
/// Works on the lateral motion from 150 to 560 Hz at about 1.4 kHz: coarse, but cheap enough to try every lag on everything. What it finds is only a
/// proposal: music repeats too.
/// </remarks>
internal sealed class TurnLagScan
{
    private const double WantedRateHz = 1_400;
    private const double LowHz = 150;
    private const double HighHz = 560;
    private const double TransitionHz = 200;

    /// <summary>Pieces that are looked at together: 1.2 s, long enough for tunes to change and shorter than two turns of a coarse groove.</summary>
    private const int Together = 4;

    private readonly int _factor;
    private readonly float[] _kernel;
    private readonly float[] _input;
    private readonly float[] _low;
    private readonly int _piece;
    private readonly int[] _lags;
    private readonly int _longest;
    private readonly float[][] _products;
    private readonly float[][] _energies;
    private readonly float[] _own = new float[Together];
    private readonly double[] _squares;
    private int _filled;
    private int _count;

    /// <param name="rateHz">Rate of what comes in.</param>
    /// <param name="pieceSeconds">About how long a piece is to be; see <see cref="PieceSamples"/>.</param>
    public TurnLagScan(double rateHz, double pieceSeconds)
    {
        _factor = Math.Max(1, (int)Math.Round(rateHz / WantedRateHz));
        RateHz = rateHz / _factor;
        int taps = 8 * (int)Math.Ceiling(3.3 * rateHz / TransitionHz / 8);
        _kernel = [.. TurnKernel.BandPass(taps, LowHz / rateHz, HighHz / rateHz).Select(h => (float)h)];
        _piece = (int)Math.Round(pieceSeconds * RateHz);
        PieceSamples = _piece * _factor;
        _lags = [.. TurnFamilies.All.SelectMany(family => Between(family.ShortestSeconds, family.LongestSeconds)).Order()];
        _longest = _lags[^1];
        _input = new float[taps - 1 + PieceSamples];
        _filled = taps - 1;
        _low = new float[_longest + _piece];
        _squares = new double[_low.Length + 1];
        _products = [.. Enumerable.Range(0, Together).Select(_ => new float[_lags.Length])];
        _energies = [.. Enumerable.Range(0, Together).Select(_ => new float[_lags.Length])];
    }

    /// <summary>Rate the search works at, Hz.</summary>
    public double RateHz { get; }

    /// <summary>Samples of one piece at the incoming rate.</summary>
    public int PieceSamples { get; }

    /// <summary>Adds one whole piece.</summary>
    /// <param name="lateral"><see cref="PieceSamples"/> samples.</param>
    /// <returns>The lag that resembles most, seconds (0 when none does), and how much, 0 to 1.</returns>
    public (double LagSeconds, float Correlation) Add(ReadOnlySpan<float> lateral)
    {
        Lower(lateral);
        int slot = _count++ % Together;
        int start = _low.Length - _piece;
        ReadOnlySpan<float> now = _low.AsSpan(start);
        _own[slot] = TurnDot.Of(now, now);
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
            products[i] = TurnDot.Of(now, _low.AsSpan(from, _piece));
            energies[i] = (float)(_squares[from + _piece] - _squares[from]);
        }

        return Best();
    }

    private void Lower(ReadOnlySpan<float> lateral)
    {
        lateral.CopyTo(_input.AsSpan(_filled));
        _low.AsSpan(_piece).CopyTo(_low);
        Span<float> into = _low.AsSpan(_low.Length - _piece);
        for (int i = 0; i < into.Length; i++)
        {
            into[i] = TurnDot.Of(_kernel, _input.AsSpan(i * _factor, _kernel.Length));
        }

        _input.AsSpan(_input.Length - _filled).CopyTo(_input);
    }

    private (double LagSeconds, float Correlation) Best()
    {
        float own = 0;
        foreach (float energy in _own)
        {
            own += energy;
        }

        int best = -1;
        float highest = 0;
        Span<float> all = stackalloc float[_lags.Length];
        for (int i = 0; i < _lags.Length; i++)
        {
            float product = 0;
            float energy = 0;
            for (int k = 0; k < Together; k++)
            {
                product += _products[k][i];
                energy += _energies[k][i];
            }

            all[i] = own * energy > 1e-20f ? product / MathF.Sqrt(own * energy) : 0;
            if (all[i] > highest)
            {
                highest = all[i];
                best = i;
            }
        }

        if (best < 0)
        {
            return (0, 0);
        }

        return (_lags[best] / RateHz, highest);
    }

    private IEnumerable<int> Between(double shortestSeconds, double longestSeconds)
    {
        int first = (int)Math.Floor(shortestSeconds * RateHz);
        return Enumerable.Range(first, (int)Math.Ceiling(longestSeconds * RateHz) - first + 1);
    }
}
