using Station.Evaluation.Disc;
using Station.Evaluation.Judging;
using Station.Evaluation.Signal;

namespace Station.Evaluation.Faults;

/// <summary>Offset, hum, rumble, surface noise, crackle, scratches.</summary>
public static class NoiseFaults
{
    /// <summary><c>dc-offset</c>.</summary>
    public static FaultClass Offset { get; } = new("dc-offset", 80,
    [
        new FaultRow("0.0005 of full scale (−66 dBFS)", false) { Input = s => AddOffset(s, 0.0005) },
        new FaultRow("0.0032 of full scale (−50 dBFS)", true) { Input = s => AddOffset(s, 0.0032) },
        new FaultRow("0.02 of full scale (−34 dBFS)", true) { Input = s => AddOffset(s, 0.02) },
    ]);

    /// <summary><c>mains-hum</c>.</summary>
    public static FaultClass Hum { get; } = new("mains-hum", 90,
    [
        new FaultRow("fundamental −66 dBFS", false) { Recipe = NoResidue, Input = s => AddHum(s, -66) },
        new FaultRow("fundamental −60 dBFS", true) { Recipe = NoResidue, Input = s => AddHum(s, -60) },
        new FaultRow("fundamental −54 dBFS", true) { Recipe = NoResidue, Input = s => AddHum(s, -54) },
        new FaultRow("fundamental −44 dBFS", true) { Recipe = NoResidue, Input = s => AddHum(s, -44) },
    ]);

    /// <summary><c>rumble</c>.</summary>
    public static FaultClass Rumble { get; } = new("rumble", 80,
    [
        new FaultRow("−42 dBFS", false) { Recipe = (r, _) => r.RumbleDbfs = -42, Settle = s => s.Truth.Codes.Add("rumble") },
        new FaultRow("−34 dBFS", true) { Recipe = (r, _) => r.RumbleDbfs = -34, Settle = s => s.Truth.Codes.Add("rumble") },
        new FaultRow("−28 dBFS", true) { Recipe = (r, _) => r.RumbleDbfs = -28, Settle = s => s.Truth.Codes.Add("rumble") },
    ]);

    /// <summary><c>surface-noise</c>.</summary>
    public static FaultClass Surface { get; } = new("surface-noise", 80,
    [
        new FaultRow("−45 dBFS A-weighted", false) { Recipe = (r, _) => Hiss(r, -45), Settle = s => TellSurface(s, -45) },
        new FaultRow("−40 dBFS A-weighted", true) { Recipe = (r, _) => Hiss(r, -40), Settle = s => TellSurface(s, -40) },
        new FaultRow("−35 dBFS A-weighted", true) { Recipe = (r, _) => Hiss(r, -35), Settle = s => TellSurface(s, -35) },
    ]);

    /// <summary><c>crackle</c>.</summary>
    public static FaultClass Crackle { get; } = new("crackle", 80,
    [
        new FaultRow("250 ticks a minute", false) { Recipe = (r, _) => Ticks(r, 250), Settle = s => s.Truth.Codes.Add("crackle") },
        new FaultRow("600 ticks a minute", true) { Recipe = (r, _) => Ticks(r, 600), Settle = s => s.Truth.Codes.Add("crackle") },
        new FaultRow("1500 ticks a minute", true) { Recipe = (r, _) => Ticks(r, 1500), Settle = s => s.Truth.Codes.Add("crackle") },
    ]);

    /// <summary><c>scratch-radial</c>.</summary>
    public static FaultClass Scratch { get; } = new("scratch-radial", 80,
    [
        new FaultRow("6 turns, −12 dBFS", false) { Groove = s => ScratchTurns(s, 6, -12) },
        new FaultRow("15 turns, −12 dBFS", true) { Groove = s => ScratchTurns(s, 15, -12), Settle = PlaceScratch },
        new FaultRow("15 turns, −20 dBFS", false) { Groove = s => ScratchTurns(s, 15, -20), Settle = PlaceScratch },
        new FaultRow("30 turns, −16 dBFS", true) { Groove = s => ScratchTurns(s, 30, -16), Settle = PlaceScratch },
    ]);

    private static void AddOffset(Side side, double offset)
    {
        double signed = side.Random.Sign() * offset;
        bool both = side.Random.Chance(0.5);
        int channel = side.Random.Whole(0, 1);
        for (int c = 0; c < 2; c++)
        {
            if (both || c == channel)
            {
                float[] x = side.Capture.Channel(c);
                for (int i = 0; i < x.Length; i++)
                {
                    x[i] += (float)signed;
                }
            }
        }

        side.Truth.Channel = both ? null : channel;
        side.Truth.Codes.Add("dc-offset");
        side.Truth.Figures.Add(new TrueFigure(MeasureNames.DcOffset, offset, 0.1 * offset, false));
    }

    private static void NoResidue(DiscRecipe recipe, SeededRandom random)
    {
        recipe.ResidualHumDbfs = -120;
        recipe.MainsHz = recipe.MainsHz < 55 ? 50 + random.Between(-0.15, 0.15) : 60 + random.Between(-0.05, 0.05);
    }

    private static void AddHum(Side side, double levelDbfs)
    {
        double hz = side.Recipe.MainsHz;
        double[] levels =
        [
            levelDbfs, levelDbfs - side.Random.Between(9, 16), levelDbfs - side.Random.Between(9, 18), levelDbfs - side.Random.Between(18, 26),
            levelDbfs - side.Random.Between(14, 26),
        ];
        PhonoStage.AddHum(side, hz, levels, 0, side.Capture.Frames);
        side.Truth.Codes.Add("mains-hum");
        side.Truth.Figures.Add(new TrueFigure(MeasureNames.HumHz, hz, 0.02, false));
        side.Truth.Figures.Add(new TrueFigure(MeasureNames.HumDbfs, levelDbfs, 1, true));
    }

    private static void Hiss(DiscRecipe recipe, double level)
    {
        recipe.PeakDbfs = Math.Max(recipe.PeakDbfs, -7);
        recipe.SurfaceDba = level;
        recipe.TickFloorDbfs = level + 16;
        recipe.TickCeilingDbfs = Math.Max(recipe.TickCeilingDbfs, level + 22);
    }

    private static void TellSurface(Side side, double level)
    {
        side.Truth.Codes.Add("surface-noise");
        side.Truth.Companions.Add("crackle");

        // Crosstalk, equalisation errors and the level set by the music's true peak move the planted level by a decibel or two.
        side.Truth.Figures.Add(new TrueFigure(MeasureNames.NoiseDba, level, 3, false));
    }

    private static void Ticks(DiscRecipe recipe, double perMinute)
    {
        recipe.TicksPerMinute = perMinute;
        recipe.TickFloorDbfs = Math.Max(recipe.SurfaceDba + 24, -38);
        recipe.TickCeilingDbfs = -10;
    }

    private static void ScratchTurns(Side side, int turns, double peakDbfs)
    {
        (int from, int to) = side.Random.Pick(side.GrooveTracks);
        double turn = side.Recipe.TurnFrames;
        int room = to - from - (int)((turns + 2) * turn);
        int start = room > 0 ? from + (int)(side.Random.NextUnit() * room) : side.GrooveTracks[0].From;
        WiringFaults.Require(start + ((turns + 2) * turn) < side.GrooveTracks[^1].To);
        var ticks = GrooveNoise.Make(side.Recipe.Noise, side.Music.GrooveTexture());
        double slant = side.Random.Between(-0.004, 0.004);       // a scratch is seldom quite radial: it wanders over the turns
        for (int i = 0; i < turns; i++)
        {
            double at = start + (i * turn * (1 + slant)) + (side.Random.Between(-0.0004, 0.0004) * side.RateHz);
            ticks.AddTick(side.Groove, at / side.RateHz, side.Recipe.Units(peakDbfs + side.Random.Between(-2, 2)), side.Random);
        }

        side.Truth.Codes.Add("scratch-radial");
        side.Truth.Companions.Add("crackle");
        side.Truth.Rule = PositionRule.Overlap;
        side.Truth.PositionTolerance = 1;
        side.Truth.Spans.Add((side.Recipe.PreRollSeconds + ((double)start / side.RateHz), side.Recipe.PreRollSeconds + ((start + (turns * turn)) / side.RateHz)));
    }

    private static void PlaceScratch(Side side) => side.Truth.PlaceDecides = true;
}
