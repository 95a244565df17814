using Station.Evaluation.Signal;

namespace Station.Evaluation.Faults;

/// <summary>Runs of frames that meet a condition.</summary>
public static class Runs
{
    /// <summary>Runs of at least so many frames, in order.</summary>
    public static List<(int From, int To)> Find(float[] samples, int leastFrames, Func<float, bool> condition)
    {
        ArgumentNullException.ThrowIfNull(samples);
        ArgumentNullException.ThrowIfNull(condition);
        var runs = new List<(int, int)>();
        int start = -1;
        for (int i = 0; i <= samples.Length; i++)
        {
            if (i < samples.Length && condition(samples[i]))
            {
                start = start < 0 ? i : start;
            }
            else if (start >= 0)
            {
                if (i - start >= leastFrames)
                {
                    runs.Add((start, i));
                }

                start = -1;
            }
        }

        return runs;
    }

    /// <summary>Puts the runs of both channels into a truth: spans in order, and the channel when only one has any.</summary>
    public static void Tell(SideTruth truth, List<(int From, int To)> left, List<(int From, int To)> right, int rateHz)
    {
        ArgumentNullException.ThrowIfNull(truth);
        ArgumentNullException.ThrowIfNull(left);
        ArgumentNullException.ThrowIfNull(right);
        truth.Channel = right.Count == 0 ? 0 : left.Count == 0 ? 1 : null;
        truth.Spans.AddRange(left.Concat(right).OrderBy(r => r.From).Select(r => ((double)r.From / rateHz, (double)r.To / rateHz)));
    }

    /// <summary>The level that so small a share of the music's samples exceeds.</summary>
    public static double Level(Disc.Side side, double share)
    {
        ArgumentNullException.ThrowIfNull(side);
        int[] counts = new int[20001];
        double peak = side.MusicPeak();
        long total = 0;
        foreach ((int from, int to) in side.MusicSpans)
        {
            for (int channel = 0; channel < 2; channel++)
            {
                float[] x = side.Capture.Channel(channel);
                for (int i = from; i < to; i++)
                {
                    counts[(int)(Math.Min(Math.Abs(x[i]) / peak, 1) * 20000)]++;
                }

                total += to - from;
            }
        }

        long above = 0;
        int bin = 20000;
        while (bin > 0 && above + counts[bin] < share * total)
        {
            above += counts[bin--];
        }

        return peak * bin / 20000;
    }
}
