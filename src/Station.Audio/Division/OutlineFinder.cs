using System.Collections.Immutable;
using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>Draws the outline of a side from its level envelope, with the means that divide it into tracks.</summary>
internal static class OutlineFinder
{
    private const int Second = StepLength.StepsPerSecond;

    // A gap or lead-in shorter than this tells little about noise.
    private const int ShortestGroove = Second * 2 / 5;

    // Kept away from music, fades and the needle's own noises on both sides of a stretch.
    private const int Margin = Second / 5;

    // Quieter than the groove by this much, the stylus is not in it.
    private const double NeedleUpDb = 5;

    /// <summary>Draws the outline.</summary>
    /// <param name="envelope">The side's level.</param>
    public static SideOutline Of(LevelEnvelope envelope)
    {
        SideOutline nothing = new() { Steps = envelope.Steps, StepFrames = envelope.StepFrames };
        if (envelope.Steps < Second)
        {
            return nothing;
        }

        GrooveLevel level = GrooveLevel.Of(envelope);
        if (NoiseFloor.Find(level) is not { } noise)
        {
            return nothing with { Music = [new StepSpan(0, envelope.Steps)] };
        }

        double[] floor = noise.ToArray(level.Steps);
        DivisionSettings settings = new();
        ImmutableArray<float> floorDb = [.. floor.Select(db => (float)db)];
        if (new GapFinder(level, floor, floorTrust: 1).Find(settings.QuietMarginDb, settings.HysteresisDb) is not { } map)
        {
            return nothing with { FloorDb = floorDb };
        }

        // Between two sides in one file, or where the side was interrupted, a stretch without music is no groove.
        ImmutableArray<StylusUp> lifts = [.. StylusDetector.Find(envelope, settings.Stylus).Stretches.Where(up => up.FirstStep > map.FirstStep && up.EndStep < map.EndStep)];
        ImmutableArray<GrooveSpan>.Builder groove = ImmutableArray.CreateBuilder<GrooveSpan>();
        ImmutableArray<StepSpan>.Builder music = ImmutableArray.CreateBuilder<StepSpan>();
        int down = InGroove(level, floor, map.FirstStep - 1, -1, -1) + 1;
        AddGroove(groove, [], down, map.FirstStep, GroovePlace.LeadIn);
        int from = map.FirstStep;
        foreach (Gap gap in map.Gaps.Where(gap => gap.Steps >= ShortestGroove))
        {
            music.Add(new StepSpan(from, gap.FirstStep));
            AddGroove(groove, lifts, gap.FirstStep, gap.EndStep, GroovePlace.Gap);
            from = gap.EndStep;
        }

        music.Add(new StepSpan(from, map.EndStep));
        int up = InGroove(level, floor, map.EndStep, +1, level.Steps);
        AddGroove(groove, [], map.EndStep, up, GroovePlace.RunOut);
        return nothing with
        {
            NeedleDownStep = down > 0 ? down : null,
            NeedleUpStep = up < level.Steps ? up : null,
            Music = music.ToImmutable(),
            Groove = groove.ToImmutable(),
            FloorDb = floorDb,
        };
    }

    private static void AddGroove(ImmutableArray<GrooveSpan>.Builder groove, ImmutableArray<StylusUp> lifts, int from, int to, GroovePlace place)
    {
        foreach (StylusUp lift in lifts.Where(lift => lift.EndStep > from && lift.FirstStep < to))
        {
            AddGroove(groove, [], from, Math.Max(from, lift.FirstStep), place);
            from = Math.Min(to, lift.EndStep);
        }

        if (to - from >= ShortestGroove + (2 * Margin))
        {
            groove.Add(new GrooveSpan(from + Margin, to - Margin, place));
        }
    }

    /// <summary>The step where the level leaves the groove's, seen from the music outward; <paramref name="end"/> when it never does.</summary>
    private static int InGroove(GrooveLevel level, double[] floor, int start, int direction, int end)
    {
        int below = 0;
        for (int step = start; step != end; step += direction)
        {
            below = level.Band[step] < floor[step] - NeedleUpDb ? below + 1 : 0;
            if (below == Second / 4)
            {
                return step - (direction * (below - 1));
            }
        }

        return end;
    }
}
