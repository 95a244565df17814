namespace Station.Audio.Meters.Skips;

/// <summary>Tells how far a burst of slow motion stands above those that the music of this side makes.</summary>
/// <remarks>
/// The bass of a disc is lateral; what of it shows up as vertical, because the channels are not quite alike, is the same share at all times. That share is found by least squares, loud
/// moments weighted down so that one knock does not decide it, and taken out of the vertical motion. What is left, and the lateral motion, is held against what they exceed for five thousandths of the music.
/// A burst of the lateral motion above the arm's resonance is a bass drum more often than not and counts less.
/// </remarks>
internal sealed class KnockScale
{
    private const int Bands = KnockBand.Bands;

    // 5 and 20 s of music (own choice).
    private const long FirstSets = 5 * KnockBand.SetsPerSecond;
    private const long SecondSets = 20 * KnockBand.SetsPerSecond;

    // A power far below the last bit of 24.
    private const double Nothing = 1e-16;

    // Weights of the motions, lowest band first: what is the music's own above the arm's resonance counts less. Chosen on tuning sides.
    private static readonly double[] VerticalWeight = [1, 1, 0.7];
    private static readonly double[] LateralWeight = [0.5, 0.2, 0.2];

    private long _sets;
    private readonly KnockLevels[] _levels = [.. Enumerable.Range(0, 2 * Bands).Select(_ => new KnockLevels())];
    private readonly double[] _strong = [.. Enumerable.Repeat(1.0, 2 * Bands)];
    private readonly double[] _cross = new double[Bands];
    private readonly double[] _lateral = new double[Bands];

    /// <summary>Takes a set of the music into account.</summary>
    public void Add(ReadOnlySpan<float> set)
    {
        // What was measured while the share was still uncertain is forgotten.
        _sets++;
        bool anew = _sets is FirstSets or SecondSets;
        for (int band = 0; band < Bands; band++)
        {
            double weight = 1 / Math.Sqrt(set[band] + set[Bands + band] + Nothing);
            _cross[band] += weight * set[(2 * Bands) + band];
            _lateral[band] += weight * set[Bands + band];
            if (anew)
            {
                _levels[band].Clear();
            }

            _levels[band].Add(OwnVertical(set, band));
            _levels[Bands + band].Add(set[Bands + band]);
        }
    }

    /// <summary>Works out anew what is strong on this side.</summary>
    public void Update()
    {
        for (int i = 0; i < _strong.Length; i++)
        {
            _strong[i] = _levels[i].Strong();
        }
    }

    /// <summary>Powers over what is strong here, weighted and added over bands and motions.</summary>
    public double Height(ReadOnlySpan<float> set)
    {
        double sum = 0;
        for (int band = 0; band < Bands; band++)
        {
            sum += (VerticalWeight[band] * OwnVertical(set, band) / _strong[band]) + (LateralWeight[band] * set[Bands + band] / _strong[Bands + band]);
        }

        return sum;
    }

    private double OwnVertical(ReadOnlySpan<float> set, int band)
    {
        double share = _lateral[band] > 0 ? _cross[band] / _lateral[band] : 0;
        return Math.Max(0, set[band] - (2 * share * set[(2 * Bands) + band]) + (share * share * set[Bands + band]));
    }
}
