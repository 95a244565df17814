using Station.Evaluation.Disc;

namespace Station.Evaluation.Dividing;

/// <summary>Every kind of side to be divided. Levels, shares and lengths are own choices; what they stand for is in docs/evaluation.md.</summary>
public static class DivisionClasses
{
    private static readonly GuideKind[] AllGuides = [GuideKind.None, GuideKind.Count, GuideKind.Lengths];

    /// <summary>All of them.</summary>
    public static IReadOnlyList<DivisionClass> All { get; } =
    [
        new("clean", "3 to 7 tracks, gaps 1.5 to 6 s, groove noise −70 to −55 dBFS A-weighted", AllGuides) { Plan = Ordinary, Clean = true, Weight = 3 },
        new("fades", "most tracks fade out over 4 to 12 s, some fade in over 1 to 6 s", AllGuides) { Plan = Fades, Clean = true },
        new("quiet-starts", "half of the tracks begin 30 to 50 dB below their peak for 3 to 12 s and rise over 2 to 10 s", AllGuides) { Plan = QuietStarts, Clean = true },
        new("clicky", "worn: 40 to 150 ticks a minute up to −8 dBFS, landing −6 to −2 dBFS, lift −16 to −6 dBFS", AllGuides) { Plan = Clicky, Clean = true },
        new("noisy", "groove noise −55 to −40 dBFS A-weighted", AllGuides) { Plan = Noisy },
        new("short-gaps", "gaps 0.8 to 1.5 s", AllGuides) { Plan = ShortGaps },
        new("live", "a crowd between the tracks and faintly under them, no gap", AllGuides) { Plan = Live },
        new("segue", "one or two pairs of tracks meet without a gap, lengths printed within 1 s", [GuideKind.Count, GuideKind.Lengths]) { Plan = Segue },
        new("pauses", "2 to 4 tracks with composed pauses of 0.8 to 3 s inside", AllGuides) { Plan = Pauses },
        new("single", "45 rev/min, one track of 2 to 4.5 min, two in three with a pause of 1 to 3 s inside", AllGuides) { Plan = Single },
        new("ep", "45 rev/min, two tracks", AllGuides) { Plan = ExtendedPlay },
        new("coarse", "78.26 or 77.92 rev/min, mono, one track, groove noise −50 to −36 dBFS A-weighted, 60 to 300 ticks a minute", AllGuides) { Plan = Coarse },
        new("speed", "played 1 to 3 % fast or slow", AllGuides) { Plan = Speed },
        new("many", "10 to 14 tracks of 22 to 46 s", AllGuides) { Plan = Many },
    ];

    private static DividedPlan Plan(SidePlanner planner, IReadOnlyList<DividedPiece> pieces) => new(planner.Recipe)
    {
        Pieces = pieces,
        NoiseDriftDb = planner.Random.Between(-2.5, 2.5),
    };

    private static DividedPlan Ordinary(SidePlanner planner) => Plan(planner, Usual(planner, 1.5, 6));

    private static IReadOnlyList<DividedPiece> Usual(SidePlanner planner, double shortestGap, double longestGap, Func<DividedPiece, int, DividedPiece>? shape = null)
    {
        int count = planner.Random.Whole(3, 7);
        return planner.Pieces(count, planner.Random.Between(215, Math.Min(480, 110 * count)), shortestGap, longestGap, shape);
    }

    private static DividedPlan Fades(SidePlanner planner) => Plan(planner, Usual(planner, 1.5, 6, (piece, _) => piece with
    {
        FadeOutSeconds = planner.Random.Chance(0.8) ? planner.Random.Between(4, 12) : piece.FadeOutSeconds,
        FadeInSeconds = planner.Random.Chance(0.35) ? planner.Random.Between(1, 6) : piece.FadeInSeconds,
    }));

    private static DividedPlan QuietStarts(SidePlanner planner) => Plan(planner, Usual(planner, 1.5, 6, (piece, _) => planner.Random.Chance(0.5) ? Quiet(piece, planner) : piece));

    private static DividedPiece Quiet(DividedPiece piece, SidePlanner planner) => piece with
    {
        QuietDb = planner.Random.Between(30, 50) - 16,          // below the peak, from an RMS about 16 dB below it
        QuietSeconds = planner.Random.Between(3, 12),
        RiseSeconds = planner.Random.Between(2, 10),
        FadeInSeconds = 0.006,
    };

    private static DividedPlan Clicky(SidePlanner planner)
    {
        DiscRecipe recipe = planner.Recipe;
        planner.Noise(-64, -55);
        recipe.TicksPerMinute = planner.Random.Between(40, 150);
        recipe.TickFloorDbfs = -40;
        recipe.TickCeilingDbfs = planner.Random.Between(-16, -8);
        recipe.DustPerSecond = planner.Random.Between(3, 12);
        recipe.DropDbfs = planner.Random.Between(-6, -2);
        recipe.LiftDbfs = planner.Random.Between(-16, -6);
        return Ordinary(planner);
    }

    private static DividedPlan Noisy(SidePlanner planner)
    {
        planner.Noise(-55, -40);
        planner.Recipe.TicksPerMinute = planner.Random.Between(8, 60);
        return Ordinary(planner);
    }

    private static DividedPlan ShortGaps(SidePlanner planner) => Plan(planner, Usual(planner, 0.8, 1.5));

    private static DividedPlan Live(SidePlanner planner) => Plan(planner, Usual(planner, 4, 11)) with { Crowd = true };

    private static DividedPlan Segue(SidePlanner planner)
    {
        int count = planner.Random.Whole(3, 6);
        int first = planner.Random.Whole(0, count - 2);
        int second = planner.Random.Chance(0.5) ? planner.Random.Whole(0, count - 2) : first;
        IReadOnlyList<DividedPiece> pieces = planner.Pieces(count, planner.Random.Between(240, 480), 1.5, 6, (piece, i) => i == first || i == second
            ? piece with { GapSeconds = -planner.Random.Between(0.02, 1.5), FadeOutSeconds = 1.5 }
            : piece);
        return Plan(planner, pieces) with { Print = PrintedErrors.Close };
    }

    private static DividedPlan Pauses(SidePlanner planner)
    {
        int count = planner.Random.Whole(2, 4);
        IReadOnlyList<DividedPiece> pieces = planner.Pieces(count, planner.Random.Between(240, 480), 1.5, 6, (piece, i) => i == 0 || planner.Random.Chance(0.5)
            ? Paused(piece, planner, planner.Random.Whole(1, 3), 0.8)
            : piece);
        return Plan(planner, pieces) with { LongestLullSeconds = 3.6 };
    }

    private static DividedPiece Paused(DividedPiece piece, SidePlanner planner, int count, double shortest)
    {
        var pauses = new List<(double From, double To)>();
        for (int i = 0; i < count; i++)
        {
            double at = piece.Seconds * planner.Random.Between((i + 0.2) / count, (i + 0.8) / count);
            pauses.Add((at, at + planner.Random.Between(shortest, 3)));
        }

        return piece with { Pauses = pauses, RingSeconds = planner.Random.Between(0.05, 1) };
    }

    private static DividedPlan Single(SidePlanner planner)
    {
        planner.Recipe.NominalRpm = 45;
        IReadOnlyList<DividedPiece> pieces = planner.Pieces(1, planner.Random.Between(130, 260), 0, 0, (piece, _) => planner.Random.Chance(2.0 / 3)
            ? Paused(piece, planner, planner.Random.Whole(1, 2), 1)
            : piece);
        return Plan(planner, pieces) with { LongestLullSeconds = 3.6 };
    }

    private static DividedPlan ExtendedPlay(SidePlanner planner)
    {
        planner.Recipe.NominalRpm = 45;
        return Plan(planner, planner.Pieces(2, planner.Random.Between(240, 400), 1.5, 6));
    }

    private static DividedPlan Coarse(SidePlanner planner)
    {
        DiscRecipe recipe = planner.Recipe;
        recipe.NominalRpm = planner.Random.Chance(0.5) ? 7200.0 / 92 : 6000.0 / 77;
        recipe.Mono = true;
        planner.Noise(-50, -36);
        recipe.BandLimitHz = planner.Random.Between(5000, 9000);
        recipe.TicksPerMinute = planner.Random.Between(60, 300);
        recipe.TickCeilingDbfs = planner.Random.Between(-22, -12);
        recipe.RumbleDbfs = planner.Random.Between(-58, -44);
        return Plan(planner, planner.Pieces(1, planner.Random.Between(140, 240), 0, 0));
    }

    private static DividedPlan Speed(SidePlanner planner)
    {
        planner.Recipe.SpeedErrorPercent = planner.Random.Sign() * planner.Random.Between(1, 3);
        return Ordinary(planner);
    }

    private static DividedPlan Many(SidePlanner planner)
    {
        int count = planner.Random.Whole(10, 14);
        return Plan(planner, planner.Pieces(count, count * 34, 1.5, 5, (piece, _) => piece with { FadeOutSeconds = Math.Min(piece.FadeOutSeconds, 2) }));
    }
}
