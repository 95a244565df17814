using System.Collections.Immutable;
using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>Tells music from bare groove along a side, and describes the quiet stretches between.</summary>
/// <remarks>
/// The likeliest course of two states, music and groove, given the score of each step (Viterbi; A. J. Viterbi, IEEE Transactions on Information Theory 13, 1967;
/// from memory): a change costs something, so a single step decides nothing, and a faint excess that lasts decides as much as a strong one that passes.
/// </remarks>
internal sealed class MusicFinder(GrooveLevel level, double[] floor, BandCourse course, MusicScore score)
{
    private const int Second = StepLength.StepsPerSecond;

    // Log-odds of music a step and unit of score; steps within a quarter of a second share what they know.
    private const double OddsPerUnit = 0.12;
    private const double MostForMusic = 1;
    private const double MostForGroove = 0.25;
    private const double ChangeCost = 3;

    // Bare groove hardly reaches the one; music that fades lies between the two for longer than this (own choice, from trials).
    private const double ClearScore = 6;
    private const double FaintScore = 3.5;
    private const int BesideSteps = Second / 2;

    // A groove swells for less than a turn, by some decibels (own choice, from trials).
    private const int SwellSteps = Second * 3 / 2;
    private const double SwellDb = 6;

    // Two seconds hold a turn of most discs; over them bare groove's bands keep to a decibel or two (own choice, from trials).
    private const int SteadyBlock = 2 * Second;
    private const double SteadyAboveDb = 3;
    private const double SteadyRangeDb = 2.5;

    private const int EdgeWindow = Second / 2;
    private const int GrooveWindow = 2 * Second;

    private const int Reach = 10 * Second;

    /// <summary>Finds the music; null when there is none.</summary>
    /// <param name="even">The score at which music and groove are equally likely.</param>
    public MusicMap? Find(double even)
    {
        List<StepSpan> music = Runs(even);
        MusicRuns.DropBursts(music, IsSwell);
        MusicRuns.DropNeedleNoises(music, level);
        List<(int FirstStep, int EndStep)> steady = DropSteady(music);
        if (music.Count == 0)
        {
            return null;
        }

        FadeFollower fades = new(score);
        List<Gap> gaps = [];
        for (int i = 1; i < music.Count; i++)
        {
            (int first, int end) = fades.Follow(music[i - 1].EndStep, music[i].FirstStep);
            gaps.Add(new Gap(first, end, Confidence(first, end)));
        }

        int start = music[0].FirstStep;
        int last = music[^1].EndStep;
        (_, start) = start == 0 ? (0, 0) : fades.Follow(Math.Max(0, start - Reach), start);
        (last, _) = last == level.Steps ? (last, last) : fades.Follow(last, Math.Min(level.Steps, last + Reach));
        return new MusicMap(start, last, gaps, steady);
    }

    /// <summary>Where the level dips in the music.</summary>
    public ImmutableArray<Dip> Dips(MusicMap map) => DipFinder.Find(level, map.FirstStep, map.EndStep);

    /// <summary>How sure the place of an edge is where music and groove do meet, 0 to 1: music that creeps in or dies away may go on below what is heard.</summary>
    /// <param name="step">The edge.</param>
    /// <param name="musicBehind">True for a start, false for an end.</param>
    public double Sureness(int step, bool musicBehind)
    {
        double music = MeanOf(musicBehind ? step : step - EdgeWindow, musicBehind ? step + EdgeWindow : step);
        double groove = MeanOf(musicBehind ? step - GrooveWindow : step, musicBehind ? step : step + GrooveWindow);
        return Curve.At(music, (2, 0.55), (4, 0.75), (6, 0.95), (7, 1)) * Curve.At(groove, (0.4, 1), (1.5, 0.7));
    }

    private List<StepSpan> Runs(double even)
    {
        int steps = score.Steps;
        bool[] fromGroove = new bool[steps];                // whether music at this step followed groove at the one before
        bool[] fromMusic = new bool[steps];
        double groove = 0;
        double music = 0;                                   // a file may begin in either
        for (int step = 0; step < steps; step++)
        {
            double odds = Math.Clamp(OddsPerUnit * (score.Values[step] - even), -MostForGroove, MostForMusic);
            fromGroove[step] = groove - ChangeCost > music;
            fromMusic[step] = music - ChangeCost > groove;
            (music, groove) = (Math.Max(music, groove - ChangeCost) + odds, Math.Max(groove, music - ChangeCost));
        }

        List<StepSpan> runs = [];
        bool isMusic = music > groove;
        int end = steps;
        for (int step = steps - 1; step >= 0; step--)
        {
            if (isMusic && fromGroove[step])
            {
                runs.Add(new StepSpan(step, end));
                isMusic = false;
            }
            else if (!isMusic && fromMusic[step])
            {
                end = step;
                isMusic = true;
            }
        }

        if (isMusic)
        {
            runs.Add(new StepSpan(0, end));
        }

        runs.Reverse();
        List<StepSpan> widened = [];
        foreach (StepSpan run in runs)
        {
            MusicRuns.AddWidened(widened, Sharpened(run), steps);
        }

        return widened;
    }

    // Where music sets in or stops at once, the groove's own ups and downs beside it are not part of it.
    private StepSpan Sharpened(StepSpan run)
    {
        int first = run.FirstStep;
        while (first < run.EndStep && score.Values[first] < ClearScore)
        {
            first++;
        }

        int end = run.EndStep;
        while (end > first && score.Values[end - 1] < ClearScore)
        {
            end--;
        }

        if (first >= end)
        {
            return run;
        }

        bool atOnce = first > run.FirstStep && first - run.FirstStep <= BesideSteps && score.Mean(run.FirstStep, first) < FaintScore;
        bool stops = end < run.EndStep && run.EndStep - end <= BesideSteps && score.Mean(end, run.EndStep) < FaintScore;
        return new StepSpan(atOnce ? first : run.FirstStep, stops ? end : run.EndStep);
    }

    // Less than a turn long and hardly louder than the groove: the groove swells.
    private bool IsSwell(StepSpan run)
    {
        double highest = 0;
        for (int step = run.FirstStep; step < run.EndStep; step++)
        {
            highest = Math.Max(highest, level.Band[step] - floor[step]);
        }

        return run.Steps <= SwellSteps && highest <= SwellDb;
    }

    // Lead-in and run-out may hiss otherwise than the gaps do. What is no louder than the groove and as steady, turn after turn, is no music.
    private List<(int FirstStep, int EndStep)> DropSteady(List<StepSpan> music)
    {
        List<(int FirstStep, int EndStep)> steady = [];
        while (music.Count > 1 && IsSteadyGroove(music[0]))
        {
            steady.Add((music[0].FirstStep, music[0].EndStep));
            music.RemoveAt(0);
        }

        while (music.Count > 1 && IsSteadyGroove(music[^1]))
        {
            steady.Add((music[^1].FirstStep, music[^1].EndStep));
            music.RemoveAt(music.Count - 1);
        }

        return steady;
    }

    private bool IsSteadyGroove(StepSpan run)
    {
        int blocks = run.Steps / SteadyBlock;
        if (blocks < 2 || Math.Abs(level.Mean(run.FirstStep, run.EndStep) - floor[(run.FirstStep + run.EndStep) / 2]) > SteadyAboveDb)
        {
            return false;
        }

        double sum = 0;
        for (int series = 0; series < course.Series; series++)
        {
            ReadOnlySpan<short> levels = course.Levels(series).AsSpan(run.FirstStep, run.Steps);
            double least = double.MaxValue;
            double most = double.MinValue;
            for (int block = 0; block < blocks; block++)
            {
                double mean = 0;
                foreach (short value in levels.Slice(block * SteadyBlock, SteadyBlock))
                {
                    mean += (double)BandCourse.UnitDb * value / SteadyBlock;
                }

                least = Math.Min(least, mean);
                most = Math.Max(most, mean);
            }

            sum += most - least;
        }

        return sum / course.Series <= SteadyRangeDb;
    }

    private double Confidence(int first, int end)
    {
        double seconds = (end - first) / (double)Second;
        int inner = Math.Min(GrooveLevel.EdgeSteps, (end - first - 1) / 2);
        double above = score.Mean(first + inner, end - inner);

        // Beside a gap, or beyond the fade beside it.
        double contrast = Math.Min(
            Math.Max(MeanOf(first - (4 * Second), first), MeanOf(first - (12 * Second), first - (8 * Second))),
            Math.Max(MeanOf(end, end + (4 * Second)), MeanOf(end + (8 * Second), end + (12 * Second))));
        return Curve.At(seconds, (0.2, 0.1), (0.4, 0.35), (0.8, 0.7), (1.5, 0.95), (2.5, 0.99))
            * Curve.At(above, (1, 1), (2, 0.8), (4, 0.4), (7, 0.1))
            * Curve.At(contrast, (1.5, 0.2), (3, 0.6), (5, 0.9), (7, 1));
    }

    // Mean over the part of [from, to) that lies in the capture; far below everything when none does.
    private double MeanOf(int from, int to)
    {
        int start = Math.Max(0, from);
        int stop = Math.Min(level.Steps, to);
        return start < stop ? score.Mean(start, stop) : double.MinValue;
    }
}
