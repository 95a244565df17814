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

    // A step is quiet up to this far above the groove's own noise, and music begins this much further above (own choice, from trials; no source).
    private const double QuietMarginDb = 3.5;
    private const double HysteresisDb = 1.5;

    // A groove that swells with every turn is quiet up to this far above what its swell reaches (own choice).
    private const double SwellMarginDb = 1;

    // Quieter than the groove by this much, the stylus is not in it.
    private const double NeedleUpDb = 5;

    /// <summary>Draws the outline.</summary>
    /// <param name="envelope">The capture's level.</param>
    /// <remarks>
    /// Where the stylus was lifted inside the capture, each stretch between is drawn by itself: the electronics' noise between them lies far below the groove's, and would pass
    /// for a very quiet one.
    /// </remarks>
    public static SideOutline Of(LevelEnvelope envelope)
    {
        if (envelope.Steps < Second)
        {
            return Stretch(envelope);
        }

        ImmutableArray<GrooveStretch> stretches = CaptureParting.Of(envelope, new DivisionSettings()).Grooves;
        return stretches.Length == 1 ? Stretch(envelope) : Joined(envelope, stretches);
    }

    private static SideOutline Joined(LevelEnvelope envelope, ImmutableArray<GrooveStretch> stretches)
    {
        SideOutline[] outlines = [.. stretches.Select(stretch => Stretch(envelope.Slice(stretch.FirstStep, stretch.EndStep)))];

        // With the stylus in the air there is no groove noise: the floor of the stretch before is held.
        float[] floor = [];
        if (outlines.FirstOrDefault(outline => !outline.FloorDb.IsEmpty) is { } first)
        {
            floor = new float[envelope.Steps];
            Array.Fill(floor, first.FloorDb[0]);
            for (int i = 0; i < outlines.Length; i++)
            {
                if (!outlines[i].FloorDb.IsEmpty)
                {
                    outlines[i].FloorDb.CopyTo(floor, stretches[i].FirstStep);
                    Array.Fill(floor, outlines[i].FloorDb[^1], stretches[i].EndStep, envelope.Steps - stretches[i].EndStep);
                }
            }
        }

        return new SideOutline
        {
            Steps = envelope.Steps,
            StepFrames = envelope.StepFrames,
            NeedleDownStep = outlines[0].NeedleDownStep,
            NeedleUpStep = outlines[^1].NeedleUpStep + stretches[^1].FirstStep,
            Music = [.. outlines.Zip(stretches, (outline, stretch) => outline.Music.Select(span => new StepSpan(span.FirstStep + stretch.FirstStep, span.EndStep + stretch.FirstStep))).SelectMany(spans => spans)],
            Groove =
            [
                .. outlines.Zip(stretches, (outline, stretch) => outline.Groove.Select(span => new GrooveSpan(span.FirstStep + stretch.FirstStep, span.EndStep + stretch.FirstStep, span.Place)))
                    .SelectMany(spans => spans),
            ],
            FloorDb = [.. floor],
        };
    }

    private static SideOutline Stretch(LevelEnvelope envelope)
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
        ImmutableArray<float> floorDb = [.. floor.Select(db => (float)db)];
        double swellDb = GrooveSwell.Of(level, floor, noise.Stretches);
        (double marginDb, swellDb) = swellDb + SwellMarginDb > QuietMarginDb ? (swellDb + SwellMarginDb, swellDb) : (QuietMarginDb, 0);
        if (new GapFinder(level, floor).Find(marginDb, HysteresisDb, swellDb) is not { } map)
        {
            return nothing with { FloorDb = floorDb };
        }

        ImmutableArray<GrooveSpan>.Builder groove = ImmutableArray.CreateBuilder<GrooveSpan>();
        ImmutableArray<StepSpan>.Builder music = ImmutableArray.CreateBuilder<StepSpan>();
        int down = InGroove(level, floor, map.FirstStep - 1, -1, -1) + 1;
        AddGroove(groove, down, map.FirstStep, GroovePlace.LeadIn);
        int from = map.FirstStep;
        foreach (StepSpan gap in map.Gaps.Where(gap => gap.Steps >= ShortestGroove))
        {
            music.Add(new StepSpan(from, gap.FirstStep));
            AddGroove(groove, gap.FirstStep, gap.EndStep, GroovePlace.Gap);
            from = gap.EndStep;
        }

        music.Add(new StepSpan(from, map.EndStep));
        int up = InGroove(level, floor, map.EndStep, +1, level.Steps);
        AddGroove(groove, map.EndStep, up, GroovePlace.RunOut);
        return nothing with
        {
            NeedleDownStep = down > 0 ? down : null,
            NeedleUpStep = up < level.Steps ? up : null,
            Music = music.ToImmutable(),
            Groove = groove.ToImmutable(),
            FloorDb = floorDb,
        };
    }

    private static void AddGroove(ImmutableArray<GrooveSpan>.Builder groove, int from, int to, GroovePlace place)
    {
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
