using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>
/// Learns what a side's bare groove sounds like, and so tells music from it: first from where its noise is surely alone, then from every gap that this
/// finds, a few times over, for the noise drifts through a side and a gap knows its own best.
/// </summary>
internal static class GrooveListener
{
    private const int Second = StepLength.StepsPerSecond;

    // What is measured of a gap's noise keeps away from its edges, and needs some time.
    private const int QuietEdge = 8;
    private const int ShortestQuiet = Second / 5;
    private const int LongestQuiet = 4 * Second;

    // A turn at 33⅓: less of a gap would be the trough of the groove's swell.
    private const int TurnSteps = Second * 9 / 5;
    private const int Rounds = 3;
    private const double MostSwellDb = 8;

    /// <summary>Hears a side out.</summary>
    /// <param name="envelope">Its level.</param>
    /// <param name="level">The same between ticks.</param>
    /// <param name="noise">Where its noise is surely alone; null when nowhere: then the quietest second has to do.</param>
    /// <param name="margin">The score at which music and groove are equally likely.</param>
    public static MusicFinder Listen(LevelEnvelope envelope, GrooveLevel level, NoiseFloor? noise, double margin)
    {
        double[] floor = noise?.ToArray(level.Steps) ?? [.. Enumerable.Repeat((double)level.Band.Min(), level.Steps)];
        BandCourse course = BandCourse.Of(envelope, level);
        List<(int FirstStep, int EndStep)> sure = Pieces(
            Bridged(level, floor, noise?.Stretches ?? [Quietest(level, 0, level.Steps, Second)]).Select(stretch => (stretch.FirstStep + QuietEdge, stretch.EndStep - QuietEdge)));
        if (sure.Count == 0)
        {
            sure = [Quietest(level, 0, level.Steps, Second)];
        }

        List<(int FirstStep, int EndStep)> quiet = sure;
        MusicFinder finder = new(level, floor, course, MusicScore.Of(course, GrooveSpectrum.Of(course, quiet), quiet));
        for (int round = 0; round < Rounds && finder.Find(margin) is { } map; round++)
        {
            quiet = Pieces(
            [
                .. sure.Select(piece => (piece.FirstStep, Math.Min(piece.EndStep, map.FirstStep - QuietEdge))),
                .. map.Gaps.Select(gap => Quietest(level, gap.FirstStep + QuietEdge, gap.EndStep - QuietEdge, TurnSteps)),
                .. sure.Select(piece => (Math.Max(piece.FirstStep, map.EndStep + QuietEdge), piece.EndStep)),
                .. map.Steady,
            ]);
            if (quiet.Count == 0)
            {
                break;
            }

            quiet.Sort();
            finder = new MusicFinder(level, floor, course, MusicScore.Of(course, GrooveSpectrum.Of(course, quiet), quiet));
        }

        return finder;
    }

    // A groove that swells with every turn is steady in its troughs only: what lies between two of them, less than a turn apart, is groove too.
    private static List<(int FirstStep, int EndStep)> Bridged(GrooveLevel level, double[] floor, IReadOnlyList<(int FirstStep, int EndStep)> stretches)
    {
        List<(int FirstStep, int EndStep)> bridged = [];
        foreach ((int first, int end) in stretches)
        {
            if (bridged.Count > 0 && first - bridged[^1].EndStep <= TurnSteps && IsSwell(level, floor, bridged[^1].EndStep, first))
            {
                bridged[^1] = (bridged[^1].FirstStep, Math.Max(end, bridged[^1].EndStep));
            }
            else
            {
                bridged.Add((first, end));
            }
        }

        return bridged;
    }

    private static bool IsSwell(GrooveLevel level, double[] floor, int first, int end)
    {
        for (int step = first; step < end; step++)
        {
            if (level.Band[step] > floor[step] + MostSwellDb)
            {
                return false;
            }
        }

        return true;
    }

    /// <summary>Stretches in pieces short enough that the noise hardly changes in one; what is shorter than tells anything is left out.</summary>
    private static List<(int FirstStep, int EndStep)> Pieces(IEnumerable<(int FirstStep, int EndStep)> stretches)
    {
        List<(int FirstStep, int EndStep)> pieces = [];
        foreach ((int first, int end) in stretches)
        {
            int count = Math.Max(1, (end - first + (LongestQuiet / 2)) / LongestQuiet);
            for (int i = 0; i < count && end - first >= ShortestQuiet; i++)
            {
                pieces.Add((first + ((end - first) * i / count), first + ((end - first) * (i + 1) / count)));
            }
        }

        return pieces;
    }

    /// <summary>The quietest stretch of a length in [first, end), or all of it where that is shorter.</summary>
    private static (int FirstStep, int EndStep) Quietest(GrooveLevel level, int first, int end, int length)
    {
        if (end - first <= length)
        {
            return (first, end);
        }

        int best = first;
        for (int from = first + 1; from + length <= end; from++)
        {
            if (level.Mean(from, from + length) < level.Mean(best, best + length))
            {
                best = from;
            }
        }

        return (best, best + length);
    }
}
