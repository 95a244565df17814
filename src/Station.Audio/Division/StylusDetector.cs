using System.Collections.Immutable;
using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>Finds the stretches of a capture with the stylus out of the groove.</summary>
/// <remarks>
/// <para>
/// Noise adds up, so the electronics alone are the quietest a capture ever is. The lowest steady level is taken for theirs, and that is
/// believed only when there is a second kind of quiet above it, the groove's: steady like noise, met again and again (lead-in, gaps,
/// run-out), and with the arm's resonance in it, or where that is filtered away, well above the first in level. Without the second kind, the
/// lowest level is the groove's own and the stylus was never lifted: quiet music, gaps and a run-out that clicks once a turn give no stretch.
/// </para>
/// <para>Where electronics and groove are alike in level, the subsonics alone part them. Where the groove's noise doesn't stand above the electronics
/// either, nothing is told.</para>
/// </remarks>
public static class StylusDetector
{
    private const int Second = StepLength.StepsPerSecond;

    // Noise ranked over 0.26 s wavers by 0.3 dB; a held note moves more within a second.
    private const double SteadyDb = 0.6;
    private const int SteadySteps = Second;

    // In pieces, so that none spans a lift that changes nothing but the subsonics.
    private const int LongestPiece = 2 * Second;

    // One level: the noise's own wavering, and a stylus that hums a little more in the air.
    private const double SameDb = 3;
    private const double SubsonicSpreadDb = 6;

    // A hand on the arm or the lever knocks for less.
    private const int KnockSteps = Second * 4 / 5;

    // Four fifths of a stretch of mere electronics lie this near each other.
    private const double FlatDb = 2;

    // Subsonics against groove noise: an arm on a disc gives as much and more, electronics alone a quarter of a hundredth; music's bass that leaks
    // into the band moves with the music.
    private const double LeastArmDb = -3;
    private const double MostWithoutArmDb = 6;

    // More contrast is asked for where no steady groove noise speaks for it.
    private const double UnsteadyDb = 15;

    // Subsonics as strong as the noise: an arm on a disc, however much music at rest beside it has in the same band.
    private const double MostInAirDb = 0;

    // Lead-in, run-out and gaps speak for the groove, one lift against them.
    private const int PlacesEach = 2;

    // A step of level that shows when the stylus was lifted.
    private const double LeastStepDb = 4;

    // The groove's floor: the lowest steady stretches outside, this near each other.
    private const double FloorDb = 4;

    // Nor is music at rest the floor: that lies well below the loudest tenth.
    private const double BelowMusicDb = 16;
    private const double FloorSeconds = 1.5;
    private const int ApartSteps = 3 * Second;
    private const double AgreeingShare = 0.8;
    private const int MostSecondsEach = 4;
    private const int EdgeRunSteps = Second / 4;
    private const int NearSteps = 5 * Second / 2;
    private const int SubsonicWindow = Second;
    private const double SilencePower = 1e-15;

    /// <summary>Finds them.</summary>
    public static StylusReading Find(LevelEnvelope envelope, StylusSettings settings)
    {
        ArgumentNullException.ThrowIfNull(envelope);
        ArgumentNullException.ThrowIfNull(settings);
        GrooveLevel level = GrooveLevel.Of(envelope);
        bool[] silent = Silent(envelope);
        double[]? subsonic = envelope.HasSubsonics ? Subsonic(envelope) : null;
        List<Quiet> steady = [.. Steady(level, silent, subsonic)];
        if (steady.Count > 0)
        {
            double lowest = steady.Min(stretch => stretch.Level);
            if (subsonic is not null && BySubsonics(level, silent, subsonic, steady, lowest, settings) is { } bySubsonics)
            {
                return bySubsonics;
            }

            if (ByNoise(level, silent, subsonic, steady, lowest, settings) is { } byNoise)
            {
                return byNoise;
            }
        }

        ImmutableArray<StylusUp> silence = Stretches(Runs(silent), level.Steps, settings, _ => (null, null));
        return new StylusReading(silence.IsEmpty ? StylusCue.None : StylusCue.Silence, silence, null, null, null, null);
    }

    private static StylusReading? BySubsonics(
        GrooveLevel level, bool[] silent, double[] subsonic, List<Quiet> steady, double lowest, StylusSettings settings)
    {
        // Where both are alike in level, the subsonics part the one from the other.
        double still = steady.Where(stretch => stretch.Level <= lowest + SameDb).Min(stretch => stretch.Subsonic);
        List<Quiet> low = [.. steady.Where(stretch => stretch.Level <= lowest + SameDb && stretch.Subsonic <= still + SubsonicSpreadDb)];
        if (Weight([.. low.Where(stretch => stretch.Subsonic > stretch.Level + MostInAirDb)]) > Weight(low) / 2)
        {
            return null;
        }

        bool[] up = Mark(level, silent, i => level.Band[i] <= lowest + SameDb && subsonic[i] <= still + SubsonicSpreadDb);
        List<Quiet> floor = Floor(level, Outside(steady, up));
        double apart = settings.SubsonicDb;
        if (!IsFloor(floor))
        {
            // A groove whose noise swells with every turn is nowhere steady; a resonance that far above the stillness tells it all the same.
            floor = Lowest(level, subsonic, up);
            apart += UnsteadyDb;
        }

        List<Quiet> moved = [.. floor.Where(stretch => stretch.Subsonic >= still + apart && stretch.Subsonic >= stretch.Level + LeastArmDb)];
        return IsFloor(floor) && Weight(moved) >= AgreeingShare * Weight(floor)
            ? Reading(StylusCue.Subsonics, level, subsonic, up, moved, settings)
            : null;
    }

    private static StylusReading? ByNoise(
        GrooveLevel level, bool[] silent, double[]? subsonic, List<Quiet> steady, double lowest, StylusSettings settings)
    {
        // Electronics have no resonance: where there is one, the stylus is in the groove. A knock rings in the second beside it, so most decides.
        List<Quiet> low = [.. steady.Where(stretch => stretch.Level <= lowest + SameDb)];
        if (Weight([.. low.Where(stretch => stretch.Subsonic > stretch.Level + MostWithoutArmDb)]) > Weight(low) / 2)
        {
            return null;
        }

        bool[] up = Mark(level, silent, i => level.Band[i] <= lowest + SameDb);
        List<Quiet> floor = Floor(level, Outside(steady, up));
        int inside = Runs(up).Count(run => run.First > 0 && run.End < level.Steps && run.End - run.First >= Second / 2);
        return IsFloor(floor) && Median(floor.Select(stretch => stretch.Level)) >= lowest + settings.NoiseDb && Places(floor) >= PlacesEach * inside && Meet(Runs(up), Around(floor, Outside(steady, up)))
            ? Reading(StylusCue.GrooveNoise, level, subsonic, up, floor, settings)
            : null;
    }

    // The groove's noise drifts through a side: lead-in and run-out may lie above the floor.
    private static List<Quiet> Around(List<Quiet> floor, List<Quiet> outside)
    {
        double most = floor.Max(stretch => stretch.Level) + FloorDb;
        return [.. outside.Where(stretch => stretch.Level <= most)];
    }

    // Somewhere the stylus must be seen to leave the bare groove or to come to it: from a run-out, into a lead-in. A gap lies between music.
    private static bool Meet(List<(int First, int End)> runs, List<Quiet> floor) =>
        runs.Exists(run => run.End - run.First >= EdgeRunSteps && floor.Exists(stretch =>
            Math.Abs(stretch.First - run.End) <= NearSteps || Math.Abs(run.First - stretch.End) <= NearSteps));

    private static StylusReading? Reading(
        StylusCue cue, GrooveLevel level, double[]? subsonic, bool[] up, List<Quiet> floor, StylusSettings settings)
    {
        List<(int First, int End)> runs = Runs(up);
        double[] levels = [.. runs.SelectMany(run => level.Band[run.First..run.End]).Select(value => (double)value)];
        double groove = Median(floor.Select(stretch => stretch.Level));
        double lifted = Median(levels);
        if (groove - lifted >= LeastStepDb)
        {
            runs = Sharpen(level, runs, (groove + lifted) / 2);
        }

        ImmutableArray<StylusUp> stretches = Stretches(
            [.. runs.Where(run => IsFlat(level, run))], level.Steps, settings,
            run => (Median(level.Band[run.First..run.End].Select(value => (double)value)), subsonic is null ? null : Median(subsonic[run.First..run.End])));
        return stretches.IsEmpty
            ? null
            : new StylusReading(
                cue, stretches, Median(stretches.Select(stretch => stretch.LevelDb!.Value)), groove,
                subsonic is null ? null : Median(stretches.Select(stretch => stretch.SubsonicDb!.Value)),
                subsonic is null ? null : Median(floor.Select(stretch => stretch.Subsonic)));
    }

    // The subsonics are averaged over a second and the knock of the lift rings in them: where the level steps as well, it says when.
    private static List<(int First, int End)> Sharpen(GrooveLevel level, List<(int First, int End)> runs, double limit)
    {
        const int Most = 2 * Second;
        List<(int First, int End)> sharp = [];
        foreach ((int first, int end) in runs)
        {
            int from = first;
            int to = end;
            while (from > 0 && first - from < Most && level.Band[from - 1] <= limit)
            {
                from--;
            }

            while (to < level.Steps && to - end < Most && level.Band[to] <= limit)
            {
                to++;
            }

            from = from == first || from == 0 ? from : Math.Min(first, from + GrooveLevel.EdgeSteps);
            to = to == end || to == level.Steps ? to : Math.Max(end, to - GrooveLevel.EdgeSteps);
            if (sharp.Count > 0 && sharp[^1].End + KnockSteps >= from)
            {
                sharp[^1] = (sharp[^1].First, to);
            }
            else
            {
                sharp.Add((from, to));
            }
        }

        return sharp;
    }

    private static bool IsFlat(GrooveLevel level, (int First, int End) run)
    {
        float[] ordered = [.. level.Band[run.First..run.End].Order()];
        return ordered[ordered.Length * 4 / 5] - ordered[ordered.Length / 5] <= FlatDb;
    }

    // Stretches at the ends count from a quarter of a second; inside, from the length that settings give.
    private static ImmutableArray<StylusUp> Stretches(
        List<(int First, int End)> runs, int steps, StylusSettings settings, Func<(int First, int End), (double? Level, double? Subsonic)> levels)
    {
        int shortest = (int)(settings.ShortestSeconds * Second);
        return
        [
            .. runs.Where(run => run.End - run.First >= (run.First == 0 || run.End == steps ? EdgeRunSteps : shortest))
                .Select(run => levels(run) is var (level, subsonic) ? new StylusUp(run.First, run.End, level, subsonic) : null!),
        ];
    }

    /// <summary>Marks the steps that hold, silent ones too, knocks between them filled in, and takes back what ranking the level spread them by.</summary>
    private static bool[] Mark(GrooveLevel level, bool[] silent, Func<int, bool> holds)
    {
        bool[] marked = new bool[level.Steps];
        for (int i = 0; i < marked.Length; i++)
        {
            marked[i] = silent[i] || holds(i);
        }

        List<(int First, int End)> runs = Runs(marked);
        for (int i = 1; i < runs.Count; i++)
        {
            if (runs[i].First - runs[i - 1].End <= KnockSteps)
            {
                Array.Fill(marked, true, runs[i - 1].End, runs[i].First - runs[i - 1].End);
            }
        }

        foreach ((int first, int end) in Runs(marked))
        {
            int from = first == 0 ? 0 : Math.Min(end, first + GrooveLevel.EdgeSteps);
            int to = end == marked.Length ? end : Math.Max(from, end - GrooveLevel.EdgeSteps);
            Array.Fill(marked, false, first, from - first);
            Array.Fill(marked, false, to, end - to);
        }

        return marked;
    }

    private static List<(int First, int End)> Runs(bool[] marked)
    {
        List<(int First, int End)> runs = [];
        for (int i = 0; i < marked.Length; i++)
        {
            if (!marked[i])
            {
                continue;
            }

            int first = i;
            while (i < marked.Length && marked[i])
            {
                i++;
            }

            runs.Add((first, i));
        }

        return runs;
    }

    private static List<Quiet> Outside(List<Quiet> steady, bool[] up) =>
        [.. steady.Where(stretch => !up.AsSpan(stretch.First, stretch.End - stretch.First).Contains(true))];

    // The lowest that are met again, or last: a single second that happens to be lower is no floor.
    private static List<Quiet> Floor(GrooveLevel level, List<Quiet> outside)
    {
        float[] ordered = [.. level.Band.Order()];
        double most = ordered[ordered.Length * 9 / 10] - BelowMusicDb;
        foreach (Quiet lowest in outside.Where(stretch => stretch.Level <= most).OrderBy(stretch => stretch.Level))
        {
            List<Quiet> near = [.. outside.Where(stretch => stretch.Level >= lowest.Level && stretch.Level <= lowest.Level + FloorDb)];
            if (IsFloor(near))
            {
                return near;
            }
        }

        return [];
    }

    /// <summary>What is lowest with the stylus down, second by second, steady or not.</summary>
    private static List<Quiet> Lowest(GrooveLevel level, double[] subsonic, bool[] up)
    {
        List<Quiet> seconds = [];
        for (int first = 0; first + SteadySteps <= level.Steps; first += SteadySteps)
        {
            int end = first + SteadySteps;
            if (!up.AsSpan(Math.Max(0, first - SubsonicWindow), Math.Min(level.Steps, end + SubsonicWindow) - Math.Max(0, first - SubsonicWindow)).Contains(true))
            {
                seconds.Add(new Quiet(first, end, level.Mean(first, end), Median(subsonic[first..end])));
            }
        }

        return Floor(level, seconds);
    }

    private static bool IsFloor(List<Quiet> floor) => Weight(floor) >= FloorSeconds && (Places(floor) >= 2 || Weight(floor) >= 2 * FloorSeconds);

    private static double Weight(List<Quiet> stretches) => stretches.Sum(stretch => Math.Min(MostSecondsEach, (stretch.End - stretch.First) / (double)Second));

    private static int Places(List<Quiet> stretches)
    {
        int places = 0;
        int last = int.MinValue / 2;
        foreach (Quiet stretch in stretches.OrderBy(stretch => stretch.First))
        {
            places += stretch.First - last >= ApartSteps ? 1 : 0;
            last = stretch.End;
        }

        return places;
    }

    private static IEnumerable<Quiet> Steady(GrooveLevel level, bool[] silent, double[]? subsonic)
    {
        int first = -1;
        for (int from = 0; from + SteadySteps <= level.Steps + 1; from++)
        {
            bool steady = from + SteadySteps <= level.Steps
                && !silent[from] && !silent[from + SteadySteps - 1]
                && level.Deviation(from, from + SteadySteps) < SteadyDb
                && (first < 0 || (from - first < LongestPiece && Math.Abs(level.Mean(from, from + SteadySteps) - level.Mean(first, first + SteadySteps)) <= 1.5));
            if (steady && first < 0)
            {
                first = from;
            }
            else if (!steady && first >= 0)
            {
                int end = from - 1 + SteadySteps;
                yield return new Quiet(first, end, level.Mean(first, end), subsonic is null ? double.NaN : Median(subsonic[first..end]));
                first = -1;
            }
        }
    }

    private static bool[] Silent(LevelEnvelope envelope)
    {
        bool[] silent = new bool[envelope.Steps];
        for (int i = 0; i < silent.Length; i++)
        {
            silent[i] = envelope.Peak(0)[i] == 0 && envelope.Peak(envelope.Channels - 1)[i] == 0;
        }

        return silent;
    }

    // Over a second: a resonance near 12 Hz swings up and down with every few turns of its phase.
    private static double[] Subsonic(LevelEnvelope envelope)
    {
        double[] sum = new double[envelope.Steps + 1];
        for (int i = 0; i < envelope.Steps; i++)
        {
            sum[i + 1] = sum[i] + ((envelope.SubsonicPower(0)[i] + envelope.SubsonicPower(envelope.Channels - 1)[i]) / 2);
        }

        double[] result = new double[envelope.Steps];
        for (int i = 0; i < result.Length; i++)
        {
            int from = Math.Max(0, i - (SubsonicWindow / 2));
            int to = Math.Min(result.Length, i + (SubsonicWindow / 2) + 1);
            result[i] = 10 * Math.Log10(Math.Max(0, sum[to] - sum[from]) / (to - from) + SilencePower);
        }

        return result;
    }

    private static double Median(IEnumerable<double> values)
    {
        double[] ordered = [.. values.Order()];
        return ordered.Length == 0 ? double.NaN : ordered[ordered.Length / 2];
    }

    private sealed record Quiet(int First, int End, double Level, double Subsonic);
}
