using System.Runtime.Intrinsics;

namespace Station.Audio.Meters.Skips;

/// <summary>Follows the stylus' slow motion, vertical and lateral, in three bands from 6 to 45 Hz: the power of the last 40 ms, every 5 ms.</summary>
/// <remarks>
/// <para>
/// A stylus that is thrown out of its groove and lands in another swings on its arm: a burst around the resonance of arm and cartridge and above it, in a mixture of
/// directions and frequencies that the music of the side does not have. Half of left − right is vertical, half of left + right lateral.
/// </para>
/// <para>The samples are averaged over a sixteenth of a step (1.25 ms) and filtered at that rate of 800 Hz, the three bands in the lanes of one vector.</para>
/// </remarks>
internal sealed class KnockBand
{
    /// <summary>Bands.</summary>
    public const int Bands = 3;

    /// <summary>Values in each set: vertical powers of the bands, lateral ones, products of both motions.</summary>
    public const int Values = 3 * Bands;

    /// <summary>Sets a second.</summary>
    public const int SetsPerSecond = StepPieces.Coarse * StepLength.StepsPerSecond / PiecesPerSet;

    /// <summary>Most sets that a step gives.</summary>
    public const int MostSets = (StepPieces.Coarse / PiecesPerSet) + 1;

    private const int PiecesPerSet = 4;
    private const int WindowPieces = 32;

    // Own choice: around the arm's resonance, above it, and up to where bass drums begin.
    private static readonly (double LowHz, double HighHz)[] Edges = [(6, 16), (14, 28), (28, 45)];

    private readonly LaneSections _sections;
    private readonly Vector256<double>[] _products = new Vector256<double>[3 * WindowPieces];
    private int _piece;

    /// <param name="sampleRateHz">8,000 and up.</param>
    public KnockBand(int sampleRateHz)
    {
        double rateHz = StepPieces.RateHz(sampleRateHz, StepPieces.Coarse);
        BiquadCoefficients[][] bands = [.. Edges.Select(edge =>
            (BiquadCoefficients[])[SubsonicBand.HighPass(edge.LowHz, rateHz), .. SubsonicBand.FourthOrderLowPass(edge.HighHz, rateHz)])];
        _sections = new LaneSections(2, bands);
    }

    /// <summary>Takes a step.</summary>
    /// <param name="pieces">Its sums.</param>
    /// <param name="sets">Gets the mean squares and products, <see cref="Values"/> for each set; room for <see cref="MostSets"/> sets.</param>
    /// <returns>Sets written.</returns>
    public int Add(StepPieces pieces, Span<float> sets)
    {
        int count = 0;
        for (int piece = 0; piece < StepPieces.Coarse; piece++)
        {
            (Vector128<double> sums, int frames) = pieces.CoarsePiece(piece);
            if (frames == 0)
            {
                continue;
            }

            // One channel stands on both sides: all of it is lateral.
            double scale = 0.5 / frames;
            int at = _piece % WindowPieces;
            Vector256<double> vertical = _sections.Next(0, scale * (sums[0] - sums[1]));
            Vector256<double> lateral = _sections.Next(1, scale * (sums[0] + sums[1]));
            _products[at] = vertical * vertical;
            _products[WindowPieces + at] = lateral * lateral;
            _products[(2 * WindowPieces) + at] = vertical * lateral;
            _piece++;
            if (_piece % PiecesPerSet == 0)
            {
                for (int i = 0; i < Values / Bands; i++)
                {
                    Write(_products.AsSpan(i * WindowPieces, WindowPieces), sets.Slice((count * Values) + (i * Bands), Bands));
                }

                count++;
            }
        }

        _sections.DropNegligible();

        return count;
    }

    private static void Write(ReadOnlySpan<Vector256<double>> squares, Span<float> means)
    {
        Vector256<double> sum = Vector256<double>.Zero;
        foreach (Vector256<double> square in squares)
        {
            sum += square;
        }

        for (int band = 0; band < Bands; band++)
        {
            means[band] = (float)(sum[band] / squares.Length);
        }
    }
}
