using System.Collections.Immutable;
using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>A place where the level falls well below what is played before and after, and does not come down to bare groove: between pieces of a concert, or in a piece.</summary>
/// <param name="Step">Where it begins to rise again.</param>
/// <param name="DepthDb">How far it falls below the louder parts on either side, the less of the two.</param>
internal sealed record Dip(int Step, double DepthDb);

/// <summary>Finds dips in the level: where tracks without a gap may meet.</summary>
internal static class DipFinder
{
    private const int Second = StepLength.StepsPerSecond;
    private const int Smooth = Second / 2;

    // How far the louder parts may lie: applause rarely lasts longer (own choice).
    private const int Around = 15 * Second;

    // Music falls by less than this between its phrases; so many are kept, the deepest, none nearer to a deeper one (own choices).
    private const double LeastDepthDb = 8;
    private const double RiseDb = 2;
    private const int Apart = 4 * Second;
    private const int Most = 60;

    /// <summary>Looks between two steps.</summary>
    /// <param name="level">Of the side.</param>
    /// <param name="firstStep">First step of music.</param>
    /// <param name="endStep">The step after its last.</param>
    public static ImmutableArray<Dip> Find(GrooveLevel level, int firstStep, int endStep)
    {
        int count = endStep - firstStep - Smooth + 1;
        if (count < 2 * Apart)
        {
            return [];
        }

        double[] smooth = [.. Enumerable.Range(firstStep, count).Select(step => level.Mean(step, step + Smooth))];
        double[] before = Highest(smooth);
        Array.Reverse(smooth);
        double[] behind = Highest(smooth);
        Array.Reverse(smooth);
        Array.Reverse(behind);
        double[] depth = [.. smooth.Select((value, i) => Math.Min(before[i], behind[i]) - value)];
        List<Dip> dips = [];
        HashSet<int> taken = [];
        foreach (int at in Enumerable.Range(0, count).Where(i => depth[i] >= LeastDepthDb && IsLowest(smooth, i)).OrderByDescending(i => depth[i]))
        {
            if (dips.Count == Most || taken.Any(other => Math.Abs(other - at) < Apart))
            {
                continue;
            }

            taken.Add(at);
            int end = at;
            while (end + 1 < count && smooth[end + 1] <= smooth[at] + RiseDb)
            {
                end++;
            }

            dips.Add(new Dip(firstStep + end + (Smooth / 2), depth[at]));
        }

        return [.. dips.OrderBy(dip => dip.Step)];
    }

    private static bool IsLowest(double[] values, int at)
    {
        for (int i = Math.Max(0, at - Second); i < Math.Min(values.Length, at + Second); i++)
        {
            if (values[i] < values[at])
            {
                return false;
            }
        }

        return true;
    }

    // The highest of each value and those before it, as far back as is looked: a window that moves, by a queue of falling values.
    private static double[] Highest(double[] values)
    {
        double[] highest = new double[values.Length];
        LinkedList<int> falling = [];
        for (int i = 0; i < values.Length; i++)
        {
            while (falling.Last is { } last && values[last.Value] <= values[i])
            {
                falling.RemoveLast();
            }

            falling.AddLast(i);
            if (falling.First!.Value < i - Around)
            {
                falling.RemoveFirst();
            }

            highest[i] = values[falling.First!.Value];
        }

        return highest;
    }
}
