using Station.Audio.Reading;
using Station.Evaluation.Disc;
using Station.Evaluation.Music;
using Station.Evaluation.Signal;

namespace Station.Evaluation.Faults;

/// <summary>Sides with nothing wrong that look as if there were. None may end in a retake, and at most one in a hundred in a review.</summary>
public static class CleanTraps
{
    /// <summary>All of them, ordinary sides first.</summary>
    public static IReadOnlyList<FaultRow> All { get; } =
    [
        Trap("ordinary", (_, _) => { }),
        Trap("ordinary, no sheet", (r, _) => r.HasSheet = false),
        Trap("ordinary, used disc", (r, n) => Worn(r, n, -57, -53, 10, 45)),
        Trap("ordinary, other level", (r, n) => r.PeakDbfs = n.Between(-9, -2.2)),
        Trap("brickwalled master", (r, _) => Treat(r, StudioTricks.Brickwall)),
        Trap("bass notes 49 to 62 Hz", (r, _) => Treat(r, StudioTricks.DeepBass)),
        Trap("organ pedal 49 to 62 Hz", (r, _) => Treat(r, StudioTricks.OrganPedal)),
        Trap("near-mono music", (r, _) => Treat(r, StudioTricks.Narrow)),
        Trap("out-of-phase music", (r, _) => { r.Mono = false; Treat(r, StudioTricks.Wide); }),
        Trap("applause", (r, _) => Live(r)),
        Trap("long pauses", (r, _) => Treat(r, StudioTricks.Pauses)),
        Trap("synthesised flat-topped bass", (r, _) => Treat(r, StudioTricks.SquareBass)),
        Trap("loud needle drop", (r, n) => { r.DropDbfs = n.Between(-3, -1.6); r.LiftDbfs = n.Between(-8, -3); }),
        Trap("noisy worn disc", (r, n) => Worn(r, n, -52, -49, 30, 70)),
        Trap("long run-out", (r, n) => { r.RunOutTurns = n.Whole(25, 45); r.RunOutThumpDbfs = n.Between(-30, -18); }),
        Trap("faint run-out", (r, n) => { r.RunOutTurns = n.Whole(10, 25); r.RunOutThumpDbfs = n.Between(-66, -52); }),
        Trap("electronic loops near the turn", (r, _) => { r.NominalRpm = 100.0 / 3; Treat(r, StudioTricks.Loops); }),
        Trap("mono disc", (r, _) => r.Mono = true),
        Trap("wide dynamics", (r, n) => { r.PeakDbfs = n.Between(-9, -4); Treat(r, StudioTricks.Dynamics); }),
        Trap("coarse-groove mono disc", SeventyEight),
        Trap("no gaps", (r, _) => r.Tracks.ForEach(t => t.GapSeconds = 0)),
        Trap("castanets and rim shots", (r, _) => Treat(r, StudioTricks.SharpHits)),
        Trap("hard-panned early stereo", (r, _) => { r.Mono = false; r.BassMonoHz = 40; Treat(r, StudioTricks.PingPong); }),
        Trap("tape edits", (r, _) => Treat(r, StudioTricks.TapeEdits)),
        Trap("recorder started in the lead-in", (r, n) => { r.PreRollSeconds = 0; r.LeadInSeconds = n.Between(0.8, 2); r.RunOutTurns = 2; r.PostRollSeconds = 0; }),
        Trap("single at 45", (r, n) => { r.NominalRpm = 45; r.Tracks.RemoveRange(1, r.Tracks.Count - 1); Lengthen(r, 175); }),
        Trap("speed off by half a per cent", (r, n) => { r.SpeedErrorPercent = 0.5 * n.Sign(); r.HasSheet = true; }),
        Trap("hum of −72 dBFS", (r, _) => r.ResidualHumDbfs = -72),
        Trap("96 kHz", (r, _) => { r.SampleRateHz = 96000; r.Words = WordFormat.Int24; r.ConverterBits = 24; }),
        Trap("sudden stops", (r, _) => r.Tracks.ForEach(t => { t.FadeOutSeconds = 0.03; t.FadeInSeconds = 0.004; })),
    ];

    private static void Worn(DiscRecipe recipe, SeededRandom random, double quietest, double loudest, double fewest, double most)
    {
        recipe.PeakDbfs = Math.Max(recipe.PeakDbfs, -7);
        recipe.SurfaceDba = random.Between(quietest, loudest);
        recipe.TicksPerMinute = random.Between(fewest, most);
        recipe.TickFloorDbfs = -38;
        recipe.TickCeilingDbfs = -9;
        recipe.DustPerSecond = random.Between(3, 10);
        recipe.RumbleDbfs = random.Between(-56, -50);
    }

    private static FaultRow Trap(string name, Action<DiscRecipe, SeededRandom> recipe) => new(name, true) { Recipe = recipe };

    private static void Treat(DiscRecipe recipe, Action<StereoSignal, SeededRandom> treatment) => recipe.Tracks.ForEach(t => t.Treatment = treatment);

    private static void Live(DiscRecipe recipe)
    {
        foreach (TrackPlan plan in recipe.Tracks)
        {
            plan.Treatment = StudioTricks.Applause;
            plan.GapSeconds = 0;
            plan.FadeInSeconds = 0.3;
            plan.FadeOutSeconds = 0.3;
        }

        recipe.Tracks[^1].FadeOutSeconds = 4;
    }

    private static void Lengthen(DiscRecipe recipe, double seconds)
    {
        TrackPlan plan = recipe.Tracks[0];
        WiringFaults.Require(plan.Track.Seconds > seconds + 2);
        plan.StartSeconds = Math.Min(plan.StartSeconds, plan.Track.Seconds - seconds - 2);
        plan.Seconds = seconds;
        plan.GapSeconds = 0;
    }

    private static void SeventyEight(DiscRecipe recipe, SeededRandom random)
    {
        recipe.NominalRpm = random.Chance(0.5) ? 7200.0 / 92 : 6000.0 / 77;
        recipe.Mono = true;
        recipe.HasSheet = true;
        recipe.PeakDbfs = random.Between(-7, -3);
        recipe.SurfaceDba = random.Between(-53, -49);
        recipe.TicksPerMinute = random.Between(20, 60);
        recipe.BandLimitHz = 7500;
        recipe.RunOutTurns = random.Whole(10, 30);
        recipe.Tracks.RemoveRange(1, recipe.Tracks.Count - 1);
        Lengthen(recipe, random.Between(165, 190));
    }
}
