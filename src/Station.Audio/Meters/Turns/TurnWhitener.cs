namespace Station.Audio.Meters.Turns;

/// <summary>Takes out of a stream what its last seconds foretell, so that a held note does not resemble itself at every lag.</summary>
/// <remarks>Linear prediction from the autocorrelation (<see cref="LevinsonRecursion"/>), worked out anew for every piece.</remarks>
internal sealed class TurnWhitener
{
    // Two coefficients a note: enough for a chord in 350 Hz of band (own choice).
    private const int Order = 16;

    // Share of the older statistics that is kept with each piece: they reach back about two turns, so that a turn played again meets much the same filter (own choice).
    private const double Kept = 0.85;

    // Added to the power: notes are lowered by 30 dB at most, so that what lies deeper, the converter's noise, is not brought up (own choice).
    private const double Floor = 1.001;

    private readonly double[] _correlation = new double[Order + 1];
    private readonly float[] _filter = new float[Order];
    private float[] _raw = new float[Order];

    /// <summary>Whitens the next piece in place.</summary>
    public void Run(Span<float> piece)
    {
        if (_raw.Length != Order + piece.Length)
        {
            Array.Resize(ref _raw, Order + piece.Length);
        }

        piece.CopyTo(_raw.AsSpan(Order));
        for (int k = 0; k <= Order; k++)
        {
            _correlation[k] = (Kept * _correlation[k]) + InnerProduct.Of(piece, _raw.AsSpan(Order - k, piece.Length));
        }

        Solve();
        for (int i = 0; i < piece.Length; i++)
        {
            float foretold = 0;
            for (int k = 0; k < Order; k++)
            {
                foretold += _filter[k] * _raw[Order + i - 1 - k];
            }

            piece[i] -= foretold;
        }

        _raw.AsSpan(_raw.Length - Order).CopyTo(_raw);
    }

    private void Solve()
    {
        Array.Clear(_filter);
        if (_correlation[0] <= 1e-20)
        {
            return;
        }

        Span<double> correlation = stackalloc double[Order + 1];
        Span<double> coefficients = stackalloc double[Order + 1];
        _correlation.CopyTo(correlation);
        correlation[0] *= Floor;
        LevinsonRecursion.Fit(correlation, coefficients);
        for (int k = 0; k < Order; k++)
        {
            _filter[k] = (float)-coefficients[k + 1];
        }
    }
}
