using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>How far a groove's noise rises above its floor with every turn, where it is steady in its troughs only: a worn or warped disc swells by several decibels.</summary>
internal static class GrooveSwell
{
    // A turn takes 0.77 s at 78.26 rev/min and 1.8 s at 33⅓, some percent more or less at a turntable that is off.
    private const int ShortestTurn = StepLength.StepsPerSecond * 7 / 10;
    private const int LongestTurn = StepLength.StepsPerSecond * 19 / 10;

    // Troughs come back as evenly as they can be told to a tenth of a second; three turns in a row are no accident (own choices).
    private const int EvenSteps = StepLength.StepsPerSecond / 10;
    private const int LeastTroughs = 4;

    // What rises higher between two troughs is music with rests, not a groove (own choice, as for the division).
    private const double MostDb = 8;
    private const double HighestShare = 0.1;

    /// <summary>The rise that nine tenths of such turns keep within, dB; 0 when the groove doesn't come and go by the turn.</summary>
    /// <param name="level">The side's level.</param>
    /// <param name="floor">The floor at every step, dB.</param>
    /// <param name="steady">Where it is steady at its floor, in order.</param>
    public static double Of(GrooveLevel level, double[] floor, IReadOnlyList<(int FirstStep, int EndStep)> steady)
    {
        List<float> rises = [];
        int first = 0;
        for (int i = 1; i <= steady.Count; i++)
        {
            if (i < steady.Count && IsTurn(Apart(steady, i)) && (i - 1 == first || Math.Abs(Apart(steady, i) - Apart(steady, i - 1)) <= EvenSteps))
            {
                continue;
            }

            if (i - first >= LeastTroughs)
            {
                for (int step = steady[first].FirstStep; step < steady[i - 1].EndStep; step++)
                {
                    rises.Add((float)(level.Band[step] - floor[step]));
                }
            }

            // An uneven turn may be the first of the next row.
            first = i < steady.Count && IsTurn(Apart(steady, i)) ? i - 1 : i;
        }

        if (rises.Count == 0)
        {
            return 0;
        }

        rises.Sort();
        double rise = rises[rises.Count - 1 - (int)(HighestShare * rises.Count)];
        return rise is > 0 and <= MostDb ? rise : 0;
    }

    private static int Apart(IReadOnlyList<(int FirstStep, int EndStep)> steady, int i) =>
        (steady[i].FirstStep + steady[i].EndStep - steady[i - 1].FirstStep - steady[i - 1].EndStep) / 2;

    private static bool IsTurn(int steps) => steps is >= ShortestTurn and <= LongestTurn;
}
