using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>Sums of the samples over 64 equal pieces of a step, 3,200 a second, and over sixteenths of it, 800 a second: what the meters of slow motion and of bass begin with.</summary>
/// <remarks>Piece i of n has the frames from frames · i ÷ n, rounded down, to the next one's first.</remarks>
internal sealed class StepPieces
{
    /// <summary>Fine pieces of a step.</summary>
    public const int Fine = 64;

    /// <summary>Coarse ones.</summary>
    public const int Coarse = 16;

    private const int FineInCoarse = Fine / Coarse;

    private readonly int _channels;
    private readonly Vector128<double>[] _sums = new Vector128<double>[Fine];
    private readonly Vector128<double>[] _coarse = new Vector128<double>[Coarse];
    private int _frames;

    /// <param name="channels">1 or 2.</param>
    public StepPieces(int channels)
    {
        _channels = channels;
    }

    /// <summary>Pieces of a kind a second, about.</summary>
    /// <param name="sampleRateHz">Frames per second.</param>
    /// <param name="pieces"><see cref="Fine"/> or <see cref="Coarse"/>.</param>
    public static double RateHz(int sampleRateHz, int pieces) => (double)sampleRateHz * pieces / StepLength.Frames(sampleRateHz);

    /// <summary>Sums a step.</summary>
    /// <param name="samples">Interleaved and finite.</param>
    public void Take(ReadOnlySpan<float> samples)
    {
        _frames = samples.Length / _channels;
        int from = 0;
        for (int piece = 0; piece < Fine; piece++)
        {
            int to = _frames * (piece + 1) / Fine;
            _sums[piece] = _channels == 2 ? SumPairs(samples[(2 * from)..(2 * to)]) : Sum(samples[from..to]);
            from = to;
        }

        for (int piece = 0; piece < Coarse; piece++)
        {
            ReadOnlySpan<Vector128<double>> fine = _sums.AsSpan(FineInCoarse * piece, FineInCoarse);
            _coarse[piece] = fine[0] + fine[1] + (fine[2] + fine[3]);
        }
    }

    /// <summary>Sums of left and right over a fine piece, and its frames; one channel stands on both sides. A short step may have pieces without frames.</summary>
    public (Vector128<double> Sums, int Frames) FinePiece(int piece) => (_sums[piece], (_frames * (piece + 1) / Fine) - (_frames * piece / Fine));

    /// <summary>The same of a coarse piece.</summary>
    public (Vector128<double> Sums, int Frames) CoarsePiece(int piece) => (_coarse[piece], (_frames * (piece + 1) / Coarse) - (_frames * piece / Coarse));

    private static Vector128<double> SumPairs(ReadOnlySpan<float> samples)
    {
        Vector128<float> sum = Vector128<float>.Zero;
        foreach (Vector128<float> pair in MemoryMarshal.Cast<float, Vector128<float>>(samples))
        {
            sum += pair;
        }

        (Vector128<double> even, Vector128<double> odd) = Vector128.Widen(sum);
        Vector128<double> both = even + odd;
        return (samples.Length & 3) == 0 ? both : both + Vector128.Create((double)samples[^2], samples[^1]);
    }

    private static Vector128<double> Sum(ReadOnlySpan<float> samples)
    {
        double sum = 0;
        foreach (float sample in samples)
        {
            sum += sample;
        }

        return Vector128.Create(sum);
    }
}
