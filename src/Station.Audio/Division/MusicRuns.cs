using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>Stretches that stand out of the groove, and what of them is no music: bursts alone in a quiet groove, and the needle's own noises at either end.</summary>
internal static class MusicRuns
{
    private const int Second = StepLength.StepsPerSecond;

    // Bursts up to half a second alone in a quiet groove: scratches, run-out thumps.
    private const int BurstSteps = Second / 2;
    private const int BurstQuietSteps = Second / 4;

    private const int NeedleSteps = Second * 6 / 5;
    private const int HandlingSteps = 5 * Second;
    private const int HandlingQuietSteps = Second * 3 / 2;
    private const double HandlingBelowMusicDb = 12;

    /// <summary>Adds a run found in a ranked level, in which quiet stretches are wider than they are, and joins it with the one before where they meet.</summary>
    /// <param name="runs">In order.</param>
    /// <param name="run">Behind the last of them.</param>
    /// <param name="steps">Steps of the capture.</param>
    public static void AddWidened(List<StepSpan> runs, StepSpan run, int steps)
    {
        int from = run.FirstStep == 0 ? 0 : run.FirstStep - GrooveLevel.EdgeSteps;
        int to = run.EndStep == steps ? run.EndStep : run.EndStep + GrooveLevel.EdgeSteps;
        if (runs.Count > 0 && runs[^1].EndStep >= from)
        {
            runs[^1] = runs[^1] with { EndStep = to };
        }
        else
        {
            runs.Add(new StepSpan(Math.Max(0, from), Math.Min(steps, to)));
        }
    }

    /// <summary>Takes out bursts, and what else is no music when it lies alone in quiet groove.</summary>
    /// <param name="runs">In order.</param>
    /// <param name="alsoNone">Whether a longer run is none either.</param>
    public static void DropBursts(List<StepSpan> runs, Func<StepSpan, bool>? alsoNone = null)
    {
        // Judged on the runs as found: a row of thumps is removed whole, not only every second one.
        List<StepSpan> kept = [];
        for (int i = 0; i < runs.Count; i++)
        {
            bool quietBefore = i == 0 || runs[i].FirstStep - runs[i - 1].EndStep >= BurstQuietSteps;
            bool quietAfter = i == runs.Count - 1 || runs[i + 1].FirstStep - runs[i].EndStep >= BurstQuietSteps;
            bool isBurst = runs[i].Steps <= BurstSteps || (alsoNone?.Invoke(runs[i]) ?? false);
            if (!isBurst || !quietBefore || !quietAfter)
            {
                kept.Add(runs[i]);
            }
        }

        runs.Clear();
        runs.AddRange(kept);
    }

    /// <summary>Takes out landing, lifting and handling of the stylus before the first music and behind the last.</summary>
    /// <param name="runs">In order.</param>
    /// <param name="level">Of the capture.</param>
    public static void DropNeedleNoises(List<StepSpan> runs, GrooveLevel level)
    {
        if (runs.Count == 0)
        {
            return;
        }

        double usual = UsualLevel(runs, level);
        while (runs.Count > 0 && IsNeedleNoise(runs[0], runs.Count > 1 ? runs[1].FirstStep - runs[0].EndStep : level.Steps))
        {
            runs.RemoveAt(0);
        }

        while (runs.Count > 0 && IsNeedleNoise(runs[^1], runs.Count > 1 ? runs[^1].FirstStep - runs[^2].EndStep : level.Steps))
        {
            runs.RemoveAt(runs.Count - 1);
        }

        bool IsNeedleNoise(StepSpan run, int quietSteps) =>
            (run.Steps <= NeedleSteps && quietSteps >= BurstQuietSteps)
            || (run.Steps <= HandlingSteps && quietSteps >= HandlingQuietSteps && level.Mean(run.FirstStep, run.EndStep) < usual - HandlingBelowMusicDb);
    }

    private static double UsualLevel(List<StepSpan> runs, GrooveLevel level)
    {
        List<float> loud = [];
        foreach (StepSpan run in runs)
        {
            loud.AddRange(level.Band.AsSpan(run.FirstStep, run.Steps));
        }

        loud.Sort();
        return loud[loud.Count / 2];
    }
}
