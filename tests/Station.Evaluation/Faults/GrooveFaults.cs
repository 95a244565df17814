using Station.Evaluation.Disc;
using Station.Evaluation.Judging;

namespace Station.Evaluation.Faults;

/// <summary>What the stylus does on its way, and how fast the disc turns.</summary>
public static class GrooveFaults
{
    /// <summary><c>groove-repeats</c>.</summary>
    public static FaultClass Repeats { get; } = new("groove-repeats", 98,
    [
        new FaultRow("one turn 3 times over, then on", false) { Path = s => Stick(s, 3, -30) },
        new FaultRow("one turn 6 times over, then on", true) { Path = s => Stick(s, 6, -30) },
        new FaultRow("one turn 15 times over, then on", true) { Path = s => Stick(s, 15, -26) },
        new FaultRow("6 times over, no knock", true) { Path = s => Stick(s, 6, null) },
        new FaultRow("to the end, tracks of the sheet missing", true) { Recipe = (r, _) => r.HasSheet = true, Path = StickToTheEnd },
    ]);

    /// <summary><c>groove-skips</c>.</summary>
    public static FaultClass Skips { get; } = new("groove-skips", 80,
    [
        new FaultRow("1 turn, knock of −26 dBFS", true) { Path = s => Skip(s, 1, -26) },
        new FaultRow("3 turns, knock of −22 dBFS", true) { Path = s => Skip(s, 3, -22) },
        new FaultRow("8 turns, knock of −16 dBFS", true) { Path = s => Skip(s, 8, -16) },
        new FaultRow("2 turns, no knock", false) { Path = s => Skip(s, 2, null) },
        new FaultRow("10 turns, no knock, with a sheet", false) { Recipe = (r, _) => r.HasSheet = true, Path = s => Skip(s, 10, null) },
    ]);

    /// <summary><c>locked-groove</c>.</summary>
    public static FaultClass Locked { get; } = new("locked-groove", 80,
    [
        new FaultRow("8 turns of music", false) { Recipe = NoFade, Path = s => Joke(s, 8) },
        new FaultRow("15 turns of music", true) { Recipe = NoFade, Path = s => Joke(s, 15) },
        new FaultRow("35 turns of music", true) { Recipe = NoFade, Path = s => Joke(s, 35) },
    ]);

    /// <summary><c>side-change-inside</c>.</summary>
    public static FaultClass SideChange { get; } = new("side-change-inside", 80,
    [
        new FaultRow("6 s lifted", true) { Recipe = TwoSides, Path = s => ChangeSide(s, 6) },
        new FaultRow("25 s lifted", true) { Recipe = TwoSides, Path = s => ChangeSide(s, 25) },
    ]);

    /// <summary><c>dead-air</c>.</summary>
    public static FaultClass DeadAir { get; } = new("dead-air", 80,
    [
        new FaultRow("60 s after the lift", false) { Recipe = (r, _) => r.PostRollSeconds = 60, Settle = s => Tail(s, s.LiftFrame) },
        new FaultRow("150 s after the lift", true) { Recipe = (r, _) => r.PostRollSeconds = 150, Settle = s => Tail(s, s.LiftFrame) },
        new FaultRow("240 s after the lift", true) { Recipe = (r, _) => r.PostRollSeconds = 240, Settle = s => Tail(s, s.LiftFrame) },
    ]);

    /// <summary><c>speed-off</c>.</summary>
    public static FaultClass Speed { get; } = new("speed-off", 90,
    [
        new FaultRow("0.6 %, with a sheet", false) { Recipe = (r, n) => Speeded(r, 0.6 * n.Sign(), true), Settle = TellSpeed },
        new FaultRow("1 %, with a sheet", true) { Recipe = (r, n) => Speeded(r, 1.05 * n.Sign(), true), Settle = TellSpeed },
        new FaultRow("2 %, with a sheet", true) { Recipe = (r, n) => Speeded(r, 2 * n.Sign(), true), Settle = TellSpeed },
        new FaultRow("5 %, with a sheet", true) { Recipe = (r, n) => Speeded(r, 5 * n.Sign(), true), Settle = TellSpeed },
        new FaultRow("33⅓ played at 45, with a sheet", true)
        {
            Recipe = (r, _) => { r.NominalRpm = 100.0 / 3; Speeded(r, 35, true); },
            Settle = TellSpeed,
        },
        new FaultRow("3 %, without a sheet", true) { Recipe = (r, n) => Speeded(r, 3 * n.Sign(), false), Settle = TellSpeed },
        new FaultRow("1.5 %, with a sheet, no knock in the run-out", false)
        {
            Recipe = (r, n) => { Speeded(r, 1.5 * n.Sign(), true); r.RunOutThumpDbfs = -70; },
            Settle = TellSpeed,
        },
    ]);

    /// <summary><c>wow</c>.</summary>
    public static FaultClass Wow { get; } = new("wow", 80,
    [
        new FaultRow("±0.5 % once per turn", false) { Recipe = (r, _) => r.EccentricityPercent = 0.5, Settle = s => s.Truth.Codes.Add("wow") },
        new FaultRow("±1 % once per turn", true) { Recipe = (r, _) => r.EccentricityPercent = 1, Settle = s => s.Truth.Codes.Add("wow") },
        new FaultRow("±2 % once per turn", true) { Recipe = (r, _) => r.EccentricityPercent = 2, Settle = s => s.Truth.Codes.Add("wow") },
    ]);

    private static void Speeded(DiscRecipe recipe, double percent, bool sheet)
    {
        recipe.SpeedErrorPercent = percent;
        recipe.HasSheet = sheet;
    }

    private static void TellSpeed(Side side)
    {
        side.Truth.Codes.Add("speed-off");
        side.Truth.Companions.UnionWith(["tracks-unexpected", "division-unsure"]);
        side.Truth.Figures.Add(new TrueFigure(MeasureNames.SpeedErrorPercent, side.Recipe.SpeedErrorPercent, 0.15, true));
    }

    /// <summary>A frame of the groove inside music, with room for so many turns before and after in the same track.</summary>
    private static int GroovePlace(Side side, double turnsBefore, double turnsAfter, double from = 0, double to = 1)
    {
        double turn = side.Recipe.TurnFrames;
        for (int attempt = 0; attempt < 300; attempt++)
        {
            (int start, int end) = side.Random.Pick(side.GrooveTracks);
            int place = start + (int)(side.Random.NextUnit() * (end - start));
            double share = (double)(place - side.GrooveTracks[0].From) / (side.GrooveTracks[^1].To - side.GrooveTracks[0].From);
            if (share >= from && share <= to && place - (turnsBefore * turn) > start && place + (turnsAfter * turn) < end
                && Math.Max(side.Groove.Rms(0, place - (int)turn, place), side.Groove.Rms(1, place - (int)turn, place)) > 0.04
                && Math.Max(side.Groove.Rms(0, place, place + (side.RateHz / 2)), side.Groove.Rms(1, place, place + (side.RateHz / 2))) > 0.04)
            {
                return place;
            }
        }

        throw new SideUnfitException("No place for a jump.");
    }

    private static void Stick(Side side, int times, double? knockDbfs)
    {
        int turn = (int)Math.Round(side.Recipe.TurnFrames);
        int place = GroovePlace(side, 1.5, 2);
        int index = StylusPath.SplitAt(side, place);
        int wander = side.RateHz / 4000;        // a quarter of a millisecond: the stylus never climbs back at quite the same spot
        for (int i = 0; i < times; i++)
        {
            int shift = side.Random.Whole(-wander, wander);
            side.Path.Insert(index, new PathPiece(place - turn + shift, turn - shift, knockDbfs));
        }

        side.Path[index + times] = side.Path[index + times] with { KnockDbfs = knockDbfs };
        TellRepeat(side, "groove-repeats", StylusPath.CaptureFrame(side, index) - turn, StylusPath.CaptureFrame(side, index + times));
        side.Truth.Companions.UnionWith(["tracks-unexpected", "division-unsure"]);
    }

    private static void StickToTheEnd(Side side)
    {
        int turn = (int)Math.Round(side.Recipe.TurnFrames);
        int place = GroovePlace(side, 1.5, 1, 0.3, 0.7);
        int index = StylusPath.SplitAt(side, place);
        side.Path.RemoveRange(index, side.Path.Count - index);
        StylusPath.Turns(side, place - turn, side.Random.Whole(12, 30), -32);
        TellRepeat(side, "groove-repeats", StylusPath.CaptureFrame(side, index) - turn, StylusPath.CaptureFrame(side, side.Path.Count));
        side.Truth.Companions.UnionWith(["ends-early", "tracks-unexpected", "division-unsure"]);
    }

    private static void TellRepeat(Side side, string code, int from, int to)
    {
        side.Truth.Codes.Add(code);
        side.Truth.Spans.Add((side.Seconds(from), side.Seconds(to)));
        side.Truth.Rule = PositionRule.Overlap;
        side.Truth.PositionTolerance = 0.5;
        side.Truth.PlaceDecides = true;
    }

    private static void Skip(Side side, int turns, double? knockDbfs)
    {
        int place = GroovePlace(side, 1, turns + 2);
        int index = StylusPath.SplitAt(side, place);
        int forward = (int)Math.Round(turns * side.Recipe.TurnFrames) + side.Random.Whole(-side.RateHz / 2000, side.RateHz / 2000);
        PathPiece rest = side.Path[index];
        side.Path[index] = new PathPiece(rest.GrooveFrame + forward, rest.Frames - forward, knockDbfs);
        int frame = StylusPath.CaptureFrame(side, index);
        TellRepeat(side, "groove-skips", frame, frame);
        side.Truth.Companions.UnionWith(["tracks-unexpected", "division-unsure"]);
    }

    private static void NoFade(DiscRecipe recipe, Signal.SeededRandom random) => recipe.Tracks[^1].FadeOutSeconds = 0.002;

    private static void Joke(Side side, int turns)
    {
        int turn = (int)Math.Round(side.Recipe.TurnFrames);
        int end = side.GrooveTracks[^1].To - (side.RateHz / 100);
        WiringFaults.Require(side.Groove.Rms(0, end - turn, end) > 0.03 && side.Groove.Rms(0, end - (turn / 4), end) > 0.02);
        int index = StylusPath.SplitAt(side, end);
        side.Path.RemoveRange(index, side.Path.Count - index);
        StylusPath.Turns(side, end - turn, turns, side.Random.Chance(0.5) ? null : -44);
        TellRepeat(side, "locked-groove", StylusPath.CaptureFrame(side, index) - turn, StylusPath.CaptureFrame(side, side.Path.Count));
        side.Truth.Companions.Add("division-unsure");
        side.Truth.AtMost = ReportedSeverity.Note;
    }

    private static void TwoSides(DiscRecipe recipe, Signal.SeededRandom random)
    {
        recipe.HasSheet = false;
        recipe.Tracks[0].GapSeconds = 4;
    }

    private static void ChangeSide(Side side, double liftedSeconds)
    {
        int turn = (int)Math.Ceiling(side.Recipe.TurnFrames);
        int between = side.GrooveTracks[0].To + (int)(0.4 * side.RateHz);
        PathPiece first = side.Path[0];
        PathPiece[] rest = [.. side.Path.Skip(1)];
        int second = side.GrooveTracks[1].From - (int)(0.3 * side.RateHz);
        side.Path.Clear();
        side.Path.Add(new PathPiece(0, between));
        StylusPath.Turns(side, side.Groove.Frames - turn, side.Random.Whole(3, 8), side.Recipe.RunOutThumpDbfs);
        int lifted = side.Path.Count;
        side.Path.Add(new PathPiece(0, (int)(liftedSeconds * side.RateHz), null, 12, true));
        side.Path.Add(new PathPiece(0, (int)(side.Recipe.LeadInSeconds * side.RateHz * 0.9)));
        side.Path.Add(new PathPiece(second, first.Frames - second));
        side.Path.AddRange(rest);
        TellRepeat(side, "side-change-inside", StylusPath.CaptureFrame(side, lifted), StylusPath.CaptureFrame(side, lifted + 1));
        side.Truth.PositionTolerance = 2;
        side.Truth.Companions.UnionWith(["tracks-unexpected", "division-unsure", "dead-air"]);
    }

    private static void Tail(Side side, int from)
    {
        side.Truth.Codes.Add("dead-air");
        side.Truth.Spans.Add((side.Seconds(from), side.Seconds(side.Capture.Frames)));
        side.Truth.Rule = PositionRule.Overlap;
        side.Truth.PositionTolerance = 1;
    }
}
