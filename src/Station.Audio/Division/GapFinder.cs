using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>Finds music and the quiet stretches in it, relative to the groove's own noise.</summary>
internal sealed class GapFinder(GrooveLevel level, double[] floor, double floorTrust)
{
    private const int Second = StepLength.StepsPerSecond;

    // Bursts up to half a second alone in a quiet groove: scratches, run-out thumps.
    private const int BurstSteps = Second / 2;
    private const int BurstQuietSteps = Second / 4;

    // The needle's own noises at either end of the side.
    private const int NeedleSteps = Second * 6 / 5;
    private const int HandlingSteps = 5 * Second;
    private const int HandlingQuietSteps = Second * 3 / 2;
    private const double HandlingBelowMusicDb = 12;

    private const int FadeWindow = Second * 9 / 10;
    private const double FadeDb = 0.8;
    private const double BelowGrooveDb = 4;
    private const int ShortestFadeGap = Second * 5 / 2;

    /// <summary>Finds the music; null when there is none.</summary>
    /// <param name="marginDb">A step is quiet up to this far above the floor.</param>
    /// <param name="hysteresisDb">Music begins this much further above.</param>
    public MusicMap? Find(double marginDb, double hysteresisDb)
    {
        List<Run> music = Runs(marginDb, hysteresisDb);
        JoinBursts(music);
        DropNeedleNoises(music);
        if (music.Count == 0)
        {
            return null;
        }

        List<Gap> gaps = [];
        for (int i = 1; i < music.Count; i++)
        {
            (int first, int end) = FollowFades(music[i - 1].End, music[i].First);
            gaps.Add(new Gap(first, end, Confidence(first, end)));
        }

        int start = music[0].First;
        int last = music[^1].End;
        (_, start) = start == 0 ? (0, 0) : FollowFades(Math.Max(0, start - (10 * Second)), start);
        (last, _) = last == level.Steps ? (last, last) : FollowFades(last, Math.Min(level.Steps, last + (10 * Second)));
        return new MusicMap(start, last, gaps, []);
    }

    private List<Run> Runs(double marginDb, double hysteresisDb)
    {
        List<Run> runs = [];
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
                    AddRun(runs, first, step);
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
            AddRun(runs, first, level.Steps);
        }

        return runs;
    }

    // Quiet stretches are wider in the ranked level than they are.
    private void AddRun(List<Run> runs, int first, int end)
    {
        int from = first == 0 ? 0 : first - GrooveLevel.EdgeSteps;
        int to = end == level.Steps ? end : end + GrooveLevel.EdgeSteps;
        if (runs.Count > 0 && runs[^1].End >= from)
        {
            runs[^1] = runs[^1] with { End = to };
        }
        else
        {
            runs.Add(new Run(from, to));
        }
    }

    private static void JoinBursts(List<Run> music)
    {
        // Judged on the runs as found: a row of thumps is removed whole, not only every second one.
        List<Run> kept = [];
        for (int i = 0; i < music.Count; i++)
        {
            bool quietBefore = i == 0 || music[i].First - music[i - 1].End >= BurstQuietSteps;
            bool quietAfter = i == music.Count - 1 || music[i + 1].First - music[i].End >= BurstQuietSteps;
            if (music[i].Steps > BurstSteps || !quietBefore || !quietAfter)
            {
                kept.Add(music[i]);
            }
        }

        music.Clear();
        music.AddRange(kept);
    }

    private void DropNeedleNoises(List<Run> music)
    {
        if (music.Count == 0)
        {
            return;
        }

        double usual = UsualLevel(music);
        while (music.Count > 0 && IsNeedleNoise(music[0], music.Count > 1 ? music[1].First - music[0].End : level.Steps, usual))
        {
            music.RemoveAt(0);
        }

        while (music.Count > 0 && IsNeedleNoise(music[^1], music.Count > 1 ? music[^1].First - music[^2].End : level.Steps, usual))
        {
            music.RemoveAt(music.Count - 1);
        }
    }

    private bool IsNeedleNoise(Run run, int quietSteps, double usual) =>
        (run.Steps <= NeedleSteps && quietSteps >= BurstQuietSteps)
        || (run.Steps <= HandlingSteps && quietSteps >= HandlingQuietSteps && level.Mean(run.First, run.End) < usual - HandlingBelowMusicDb);

    private double UsualLevel(List<Run> music)
    {
        List<float> loud = [];
        foreach (Run run in music)
        {
            loud.AddRange(level.Band.AsSpan(run.First, run.Steps));
        }

        loud.Sort();
        return loud[loud.Count / 2];
    }

    // A fade sinks into the noise slowly: while the next 0.9 s lie above what the gap comes down to, it is still music.
    private (int First, int End) FollowFades(int first, int end)
    {
        if (end - first < ShortestFadeGap)
        {
            return (first, end);
        }

        // Beside the side's ends part of the stretch may be a lifted needle, quieter than any groove.
        double groove = floor[(first + end) / 2];
        float[] inner = [.. level.Band[first..end].Where(value => value > groove - BelowGrooveDb).Order()];
        double quiet = (inner.Length == 0 ? groove : inner[inner.Length / 4]) + FadeDb;
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

    private double Confidence(int first, int end)
    {
        double seconds = (end - first) / (double)Second;
        int inner = Math.Min(GrooveLevel.EdgeSteps, (end - first - 1) / 2);
        double above = level.Mean(first + inner, end - inner) - floor[(first + end) / 2];
        double unsteady = level.Deviation(first + inner, end - inner);

        // Beside a gap, or beyond the fade beside it.
        double contrast = Math.Min(
            Math.Max(MeanOf(first - (4 * Second), first), MeanOf(first - (12 * Second), first - (8 * Second))),
            Math.Max(MeanOf(end, end + (4 * Second)), MeanOf(end + (8 * Second), end + (12 * Second))))
            - floor[(first + end) / 2];
        return floorTrust
            * Curve.At(seconds, (0.2, 0.1), (0.4, 0.35), (0.8, 0.7), (1.5, 0.95), (2.5, 1))
            * Curve.At(above, (1.5, 1), (3.5, 0.75), (6, 0.4), (10, 0.15))
            * Curve.At(unsteady, (0.8, 1), (2, 0.8), (4, 0.5))
            * Curve.At(contrast, (3, 0.2), (6, 0.6), (10, 0.9), (15, 1));
    }

    // Mean over the part of [from, to) that lies in the capture; far below everything when none does.
    private double MeanOf(int from, int to)
    {
        int start = Math.Max(0, from);
        int stop = Math.Min(level.Steps, to);
        return start < stop ? level.Mean(start, stop) : double.MinValue;
    }

    private readonly record struct Run(int First, int End)
    {
        public int Steps => End - First;
    }
}
