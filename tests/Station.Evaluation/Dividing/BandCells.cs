using System.Runtime.Intrinsics;
using Station.Evaluation.Signal;

namespace Station.Evaluation.Dividing;

/// <summary>Power between 200 Hz and 9 kHz (second-order edges) in cells of 5 ms: mean square of both channels.</summary>
public static class BandCells
{
    /// <summary>Cells a second.</summary>
    public const int PerSecond = 200;

    private const double LowHz = 200;
    private const double HighHz = 9000;
    private const double FlatQ = 0.70710678;

    /// <summary>First frame of a cell.</summary>
    public static int FrameOf(int cell, int sampleRateHz) => (int)((long)cell * sampleRateHz / PerSecond);

    /// <summary>The cell in which a frame lies.</summary>
    public static int CellOf(int frame, int sampleRateHz) => (int)((long)frame * PerSecond / sampleRateHz);

    /// <summary>The power of each cell.</summary>
    public static double[] Of(StereoSignal signal)
    {
        ArgumentNullException.ThrowIfNull(signal);
        int rate = signal.SampleRateHz;
        var low = new SectionPair(Section.HighPass(LowHz, FlatQ, rate), Section.HighPass(LowHz, FlatQ, rate));
        var high = new SectionPair(Section.LowPass(HighHz, FlatQ, rate), Section.LowPass(HighHz, FlatQ, rate));
        double[] cells = new double[CellOf(signal.Frames, rate)];
        float[] left = signal.Left;
        float[] right = signal.Right;
        for (int cell = 0; cell < cells.Length; cell++)
        {
            int from = FrameOf(cell, rate);
            int to = FrameOf(cell + 1, rate);
            Vector128<double> sum = Vector128<double>.Zero;
            for (int i = from; i < to; i++)
            {
                // A speck of direct current keeps silence from becoming denormal; the high-pass takes it away.
                Vector128<double> y = high.Next(low.Next(Vector128.Create(left[i] + 1e-15, right[i] + 1e-15)));
                sum += y * y;
            }

            cells[cell] = (sum.ToScalar() + sum.GetElement(1)) / (2 * (to - from));
        }

        return cells;
    }

    /// <summary>
    /// The usual power about each cell: the geometric mean over so many cells to either side, shorter at the ends, so that a tick in a recorded noise counts
    /// for little.
    /// </summary>
    /// <param name="cells">Powers.</param>
    /// <param name="reach">Cells to either side, 0 or more.</param>
    public static double[] Smoothed(ReadOnlySpan<double> cells, int reach)
    {
        double[] running = new double[cells.Length + 1];
        for (int i = 0; i < cells.Length; i++)
        {
            running[i + 1] = running[i] + Math.Log(cells[i] + 1e-30);
        }

        double[] smooth = new double[cells.Length];
        for (int i = 0; i < smooth.Length; i++)
        {
            int from = Math.Max(0, i - reach);
            int to = Math.Min(cells.Length, i + reach + 1);
            smooth[i] = Math.Exp((running[to] - running[from]) / (to - from));
        }

        return smooth;
    }
}
