using System.Collections.Immutable;
using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>Chooses, among quiet stretches, those that part tracks. By dynamic programming: the best choice, not a greedy one.</summary>
internal static class GapChoice
{
    /// <summary>Without a sheet: the gaps worth more than an even chance, none leaving a track shorter than allowed.</summary>
    public static IReadOnlyList<Gap> Free(MusicMap map, IReadOnlyList<Gap> gaps, double shortestTrackSeconds)
    {
        int shortest = (int)(shortestTrackSeconds * StepLength.StepsPerSecond);
        double[] best = new double[gaps.Count];
        int[] previous = new int[gaps.Count];
        int last = -1;
        double lastScore = 0;
        for (int i = 0; i < gaps.Count; i++)
        {
            best[i] = double.NegativeInfinity;
            previous[i] = -1;
            if (gaps[i].FirstStep - map.FirstStep >= shortest)
            {
                best[i] = gaps[i].Confidence - 0.5;
            }

            for (int j = 0; j < i; j++)
            {
                double score = best[j] + gaps[i].Confidence - 0.5;
                if (gaps[i].FirstStep - gaps[j].EndStep >= shortest && score > best[i])
                {
                    best[i] = score;
                    previous[i] = j;
                }
            }

            if (map.EndStep - gaps[i].EndStep >= shortest && best[i] > lastScore)
            {
                lastScore = best[i];
                last = i;
            }
        }

        return Trace(gaps, last, i => previous[i]);
    }

    /// <summary>With a sheet: exactly <paramref name="count"/> gaps, the likeliest together, lengths taken into account; null when there are too few.</summary>
    public static IReadOnlyList<Gap>? Exactly(
        MusicMap map, IReadOnlyList<Gap> gaps, int count, ImmutableArray<double?> lengths, double shortestTrackSeconds)
    {
        if (count == 0)
        {
            return [];
        }

        if (gaps.Count < count)
        {
            return null;
        }

        double[,] best = new double[count, gaps.Count];
        int[,] previous = new int[count, gaps.Count];
        for (int cut = 0; cut < count; cut++)
        {
            for (int i = 0; i < gaps.Count; i++)
            {
                best[cut, i] = double.NegativeInfinity;
                double own = Math.Log(Math.Max(1e-3, gaps[i].Confidence));
                if (cut == 0)
                {
                    best[0, i] = own + Fit(map.FirstStep, gaps[i].FirstStep, lengths[0], shortestTrackSeconds);
                    continue;
                }

                for (int j = cut - 1; j < i; j++)
                {
                    double score = best[cut - 1, j] + own + Fit(gaps[j].EndStep, gaps[i].FirstStep, lengths[cut], shortestTrackSeconds);
                    if (score > best[cut, i])
                    {
                        best[cut, i] = score;
                        previous[cut, i] = j;
                    }
                }
            }
        }

        int last = -1;
        double lastScore = double.NegativeInfinity;
        for (int i = 0; i < gaps.Count; i++)
        {
            double score = best[count - 1, i] + Fit(gaps[i].EndStep, map.EndStep, lengths[count], shortestTrackSeconds);
            if (score > lastScore)
            {
                lastScore = score;
                last = i;
            }
        }

        if (last < 0)
        {
            return null;
        }

        int level = count - 1;
        return Trace(gaps, last, i => level == 0 ? -1 : previous[level--, i]);
    }

    // Log-likelihood of a track's length: stated lengths are rounded and may or may not include the gap: 2 s and 2 % of freedom; a gross
    // misprint must not outweigh what is heard on all other tracks.
    private static double Fit(int from, int to, double? stated, double shortestTrackSeconds)
    {
        double seconds = (to - from) / (double)StepLength.StepsPerSecond;
        if (seconds < shortestTrackSeconds)
        {
            return double.NegativeInfinity;
        }

        if (stated is not double length)
        {
            return 0;
        }

        double off = (seconds - length) / (2 + (0.02 * length));
        return -0.5 * Math.Min(off * off, 25);
    }

    private static List<Gap> Trace(IReadOnlyList<Gap> gaps, int last, Func<int, int> previous)
    {
        List<Gap> chosen = [];
        for (int i = last; i >= 0; i = previous(i))
        {
            chosen.Add(gaps[i]);
        }

        chosen.Reverse();
        return chosen;
    }
}
