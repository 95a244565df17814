using Station.Audio.Meters;

namespace Station.Daemon.Jobs.Reporting;

/// <summary>The course of one channel's level, brought down to the columns of the picture. Pure.</summary>
/// <param name="LowDbfs">10th percentile of the steps' level in each column.</param>
/// <param name="HighDbfs">95th percentile.</param>
/// <param name="PeakDbfs">Largest sample in each column.</param>
internal sealed record PictureBands(double[] LowDbfs, double[] HighDbfs, double[] PeakDbfs)
{
    /// <summary>Below this everything is drawn on the bottom line; digital silence lies there too.</summary>
    public const double FloorDbfs = -80;

    private const double LowPart = 0.10;
    private const double HighPart = 0.95;

    /// <summary>AES17: a full-scale sine, whose mean square is one half, is 0 dB.</summary>
    private const double SineMeanSquare = 0.5;

    /// <summary>True when the channel never rises above the floor.</summary>
    public bool IsSilent => Array.TrueForAll(PeakDbfs, p => p <= FloorDbfs);

    /// <param name="channel">0 = left or only, 1 = right.</param>
    /// <param name="columns">1 and up. With fewer steps than columns a step covers several of them.</param>
    public static PictureBands Of(LevelEnvelope envelope, int channel, int columns)
    {
        double[] low = new double[columns];
        double[] high = new double[columns];
        double[] peak = new double[columns];
        ReadOnlySpan<float> power = envelope.WidePower(channel);
        ReadOnlySpan<float> peaks = envelope.Peak(channel);
        float[] sorted = new float[(power.Length / columns) + 2];
        for (int c = 0; c < columns; c++)
        {
            int first = (int)((long)c * power.Length / columns);
            int end = Math.Max(first + 1, (int)((long)(c + 1) * power.Length / columns));
            if (end > power.Length)
            {
                low[c] = high[c] = peak[c] = FloorDbfs;
                continue;
            }

            Span<float> steps = sorted.AsSpan(0, end - first);
            power[first..end].CopyTo(steps);
            steps.Sort();
            low[c] = PowerDbfs(At(steps, LowPart));
            high[c] = PowerDbfs(At(steps, HighPart));
            float largest = 0;
            foreach (float p in peaks[first..end])
            {
                largest = Math.Max(largest, p);     // NaN, which a float capture can hold, never wins
            }

            peak[c] = Floored(20 * Math.Log10(largest));
        }

        return new PictureBands(low, high, peak);
    }

    /// <summary>Nearest rank: the smallest value that at least the given part of the values does not exceed.</summary>
    private static float At(ReadOnlySpan<float> sorted, double part) => sorted[Math.Max(0, (int)Math.Ceiling(part * sorted.Length) - 1)];

    private static double PowerDbfs(double meanSquare) => Floored(10 * Math.Log10(meanSquare / SineMeanSquare));

    private static double Floored(double dbfs) => dbfs > FloorDbfs ? Math.Min(dbfs, 0) : FloorDbfs;
}
