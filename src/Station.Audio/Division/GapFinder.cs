using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>Finds music and the quiet stretches in it by one level against the groove's own noise: enough to draw a side's outline.</summary>
internal sealed class GapFinder(GrooveLevel level, double[] floor)
{
    private const int Second = StepLength.StepsPerSecond;

    private const int FadeWindow = Second * 9 / 10;
    private const double FadeDb = 0.8;
    private const double BelowGrooveDb = 4;
    private const int ShortestFadeGap = Second * 5 / 2;

    /// <summary>Finds the music; null when there is none.</summary>
    /// <param name="marginDb">A step is quiet up to this far above the floor.</param>
    /// <param name="hysteresisDb">Music begins this much further above.</param>
    /// <param name="swellDb">How far the groove rises above the floor with every turn: so much is no fade.</param>
    public (int FirstStep, int EndStep, IReadOnlyList<StepSpan> Gaps)? Find(double marginDb, double hysteresisDb, double swellDb)
    {
        List<StepSpan> music = Runs(marginDb, hysteresisDb);
        MusicRuns.DropBursts(music);
        MusicRuns.DropNeedleNoises(music, level);
        if (music.Count == 0)
        {
            return null;
        }

        List<StepSpan> gaps = [];
        for (int i = 1; i < music.Count; i++)
        {
            (int first, int end) = FollowFades(music[i - 1].EndStep, music[i].FirstStep, swellDb);
            gaps.Add(new StepSpan(first, end));
        }

        int start = music[0].FirstStep;
        int last = music[^1].EndStep;
        (_, start) = start == 0 ? (0, 0) : FollowFades(Math.Max(0, start - (10 * Second)), start, swellDb);
        (last, _) = last == level.Steps ? (last, last) : FollowFades(last, Math.Min(level.Steps, last + (10 * Second)), swellDb);
        return (start, last, gaps);
    }

    private List<StepSpan> Runs(double marginDb, double hysteresisDb)
    {
        List<StepSpan> runs = [];
        bool loud = false;
        int first = 0;
        int crossed = 0;                                     // where the level last rose over the margin
        for (int step = 0; step < level.Steps; step++)
        {
            double above = level.Band[step] - floor[step] - marginDb;
            if (above < 0)
            {
                if (loud)
                {
                    MusicRuns.AddWidened(runs, new StepSpan(first, step), level.Steps);
                }

                loud = false;
                crossed = step + 1;
            }
            else if (!loud && above > hysteresisDb)
            {
                loud = true;
                first = crossed;
            }
        }

        if (loud)
        {
            MusicRuns.AddWidened(runs, new StepSpan(first, level.Steps), level.Steps);
        }

        return runs;
    }

    // A fade sinks into the noise slowly: while the next 0.9 s lie above what the gap comes down to, it is still music.
    private (int First, int End) FollowFades(int first, int end, double swellDb)
    {
        if (end - first < ShortestFadeGap)
        {
            return (first, end);
        }

        // Beside the side's ends part of the stretch may be a lifted needle, quieter than any groove.
        double groove = floor[(first + end) / 2];
        float[] inner = [.. level.Band[first..end].Where(value => value > groove - BelowGrooveDb).Order()];
        double quiet = (inner.Length == 0 ? groove : inner[inner.Length / 4]) + FadeDb + swellDb;
        int start = first;
        int stop = end;
        while (start + FadeWindow < end - FadeWindow && level.Mean(start, start + FadeWindow) > quiet)
        {
            start++;
        }

        while (stop - FadeWindow > start + FadeWindow && level.Mean(stop - FadeWindow, stop) > quiet)
        {
            stop--;
        }

        return (start, stop);
    }
}
