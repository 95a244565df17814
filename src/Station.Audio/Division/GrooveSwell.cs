using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>How far a groove's noise rises above its floor between two troughs, where it is steady in its troughs only: a worn or warped disc swells by several decibels with every turn.</summary>
internal static class GrooveSwell
{
    // Troughs follow each other within a turn, 1.8 s at 33⅓ and some percent more at a turntable that is off; four of them in a row are no accident (own choice).
    private const int LongestTurn = StepLength.StepsPerSecond * 19 / 10;
    private const int LeastTroughs = 4;

    // Over two seconds, a turn of most discs, the ups and downs cancel: what then moves by more is music (own choices).
    private const int Block = 2 * StepLength.StepsPerSecond;
    private const int LeastBlocks = 2;
    private const double SteadyDb = 2;

    // What rises higher between two troughs is music with rests, not a groove (own choice).
    private const double MostDb = 9;
    private const double HighestShare = 0.1;

    /// <summary>The rise that nine tenths of such turns keep within, dB; 0 when the groove doesn't come and go.</summary>
    /// <param name="level">The side's level.</param>
    /// <param name="floor">The floor at every step, dB.</param>
    /// <param name="steady">Where it is steady at its floor, in order.</param>
    public static double Of(GrooveLevel level, double[] floor, IReadOnlyList<(int FirstStep, int EndStep)> steady)
    {
        List<float> rises = [];
        int first = 0;
        for (int i = 1; i <= steady.Count; i++)
        {
            if (i < steady.Count && steady[i].FirstStep - steady[i - 1].EndStep <= LongestTurn)
            {
                continue;
            }

            if (i - first >= LeastTroughs && IsSteady(level, steady[first].FirstStep, steady[i - 1].EndStep))
            {
                for (int step = steady[first].FirstStep; step < steady[i - 1].EndStep; step++)
                {
                    rises.Add((float)(level.Band[step] - floor[step]));
                }
            }

            first = i;
        }

        if (rises.Count == 0)
        {
            return 0;
        }

        rises.Sort();
        double rise = rises[rises.Count - 1 - (int)(HighestShare * rises.Count)];
        return rise is > 0 and <= MostDb ? rise : 0;
    }

    private static bool IsSteady(GrooveLevel level, int from, int to)
    {
        double least = double.MaxValue;
        double most = double.MinValue;
        int blocks = (to - from) / Block;
        for (int block = 0; block < blocks; block++)
        {
            double mean = level.Mean(from + (block * Block), from + ((block + 1) * Block));
            least = Math.Min(least, mean);
            most = Math.Max(most, mean);
        }

        return blocks >= LeastBlocks && most - least <= SteadyDb;
    }
}
