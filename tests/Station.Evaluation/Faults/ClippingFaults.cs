using Station.Audio.Reading;
using Station.Evaluation.Disc;
using Station.Evaluation.Judging;
using Station.Evaluation.Signal;

namespace Station.Evaluation.Faults;

/// <summary>Clipping at the converter, before it, and rounded by an analogue stage; wrong levels.</summary>
public static class ClippingFaults
{
    private const int LeastRunFrames = 3;       // three samples at full scale make one over: common practice, no source (level-measures §2)
    private const int LeastFlatTops = 30;

    /// <summary><c>clipped-converter</c>.</summary>
    public static FaultClass Converter { get; } = new("clipped-converter", 98,
    [
        new FaultRow("0.5 dB over", false) { Recipe = Driven, OwnGain = true, Input = s => DriveOver(s, 0.5), Digital = TellConverter },
        new FaultRow("1 dB over", true) { Recipe = Driven, OwnGain = true, Input = s => DriveOver(s, 1), Digital = TellConverter },
        new FaultRow("3 dB over", true) { Recipe = Driven, OwnGain = true, Input = s => DriveOver(s, 3), Digital = TellConverter },
        new FaultRow("16 bits in a 24-bit word, 2 dB over", true)
        {
            Recipe = (r, random) => { Driven(r, random); r.Words = WordFormat.Int24; r.ConverterBits = 16; },
            OwnGain = true,
            Input = s => DriveOver(s, 2),
            Digital = TellConverter,
            Settle = s => s.Truth.Companions.Add("depth-padded"),
        },
        new FaultRow("one burst of 2 s, 2 dB over", true) { Recipe = Quietly, Input = Burst, Digital = TellConverter },
        new FaultRow("3 to 6 ticks at full scale: at most review", true)
        {
            Recipe = Quietly,
            Input = ClippedTicks,
            Digital = s => { TellConverter(s); s.Truth.AtMost = ReportedSeverity.Review; },
        },
        new FaultRow("ceiling 0.2 dB below full scale, 2 dB over", false)
        {
            Recipe = Driven,
            OwnGain = true,
            Input = s =>
            {
                DriveOver(s, 2);
                Clamp(s.Capture, Decibel.ToLinear(-0.2));
                Runs.Tell(s.Truth, TopRuns(s.Capture.Left, 0.977), TopRuns(s.Capture.Right, 0.977), s.RateHz);
                s.Truth.Codes.AddRange(["clipped-converter", "clipped-upstream"]);
                s.Truth.Companions.Add("level-hot");
                s.Truth.Rule = PositionRule.NearestOnset;
                s.Truth.PositionTolerance = 0.001;
            },
        },
    ]);

    /// <summary><c>clipped-upstream</c>.</summary>
    public static FaultClass Upstream { get; } = new("clipped-upstream", 90,
    [
        new FaultRow("hard, 1.5 dB", false) { Recipe = Quietly, Line = s => ClipHard(s, 1.5, true) },
        new FaultRow("hard, 3 dB, level turned down", true) { Recipe = Quietly, Line = s => ClipHard(s, 3, true) },
        new FaultRow("hard, 6 dB, level turned down", true) { Recipe = Quietly, Line = s => ClipHard(s, 6, true) },
        new FaultRow("one-sided, 3 dB", true) { Recipe = Quietly, Line = s => ClipHard(s, 3, false) },
        new FaultRow("resampled tops, 3 dB", true) { Recipe = Quietly, Line = s => { ClipHard(s, 3, true); Resample(s, 1.00031); } },
        new FaultRow("3 dB, peaks at −18 dBFS, 16 bits dithered", true)
        {
            Recipe = (r, random) =>
            {
                Quietly(r, random);
                r.PeakDbfs = -18;
                r.SurfaceDba = Math.Min(r.SurfaceDba, -68);
                r.Words = WordFormat.Int16;
                r.ConverterBits = 16;
                r.Dither = true;
            },
            Line = s => ClipHard(s, 3, true),
        },
        new FaultRow("3 dB, then a coupling capacitor of 12 Hz (tilted tops)", false)
        {
            Recipe = Quietly,
            Line = s => { ClipHard(s, 3, true); Section.RunBoth(s.Capture, () => Section.OneZero(12, s.RateHz)); },
        },
    ]);

    /// <summary><c>saturated</c>.</summary>
    public static FaultClass Saturated { get; } = new("saturated", 90,
    [
        new FaultRow("one-sided, 1.5 dB drive", false) { Recipe = Quietly, Line = s => Saturate(s, 1.5, false) },
        new FaultRow("one-sided, 3 dB drive", true) { Recipe = Quietly, Line = s => Saturate(s, 3, false) },
        new FaultRow("one-sided, 6 dB drive", true) { Recipe = Quietly, Line = s => Saturate(s, 6, false) },
        new FaultRow("both sides, 3 dB drive", false) { Recipe = Quietly, Line = s => Saturate(s, 3, true) },
        new FaultRow("both sides, 6 dB drive", false) { Recipe = Quietly, Line = s => Saturate(s, 6, true) },
    ]);

    /// <summary><c>level-hot</c>.</summary>
    public static FaultClass Hot { get; } = new("level-hot", 80,
    [
        new FaultRow("peak at −0.4 dBFS", true)
        {
            Recipe = Driven,
            OwnGain = true,
            Input = s => { s.Capture.Scale(Decibel.ToLinear(-0.4) / s.Capture.Peak(0, s.Capture.Frames)); s.Truth.Codes.Add("level-hot"); },
        },
    ]);

    /// <summary><c>level-low</c>.</summary>
    public static FaultClass Low { get; } = new("level-low", 80,
    [
        new FaultRow("programme peak at −26 dBFS", false) { Recipe = (r, _) => Turned(r, -26), Settle = s => s.Truth.Codes.Add("level-low") },
        new FaultRow("programme peak at −30 dBFS", true) { Recipe = (r, _) => Turned(r, -30), Settle = s => s.Truth.Codes.Add("level-low") },
        new FaultRow("programme peak at −36 dBFS", true) { Recipe = (r, _) => Turned(r, -36), Settle = s => s.Truth.Codes.Add("level-low") },
    ]);

    /// <summary><c>samples-invalid</c>.</summary>
    public static FaultClass Invalid { get; } = new("samples-invalid", 80,
    [
        new FaultRow("a NaN", true) { Recipe = Floats, Digital = s => Poison(s, float.NaN, 1) },
        new FaultRow("three infinities", true) { Recipe = Floats, Digital = s => Poison(s, float.PositiveInfinity, 3) },
        new FaultRow("forty values beyond full scale", true) { Recipe = Floats, Digital = s => Poison(s, -1.4f, 40) },
    ]);

    /// <summary>Few and small ticks and a soft landing, so that the music's peak is the side's.</summary>
    public static void Quietly(DiscRecipe recipe, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(recipe);
        recipe.TicksPerMinute = Math.Min(recipe.TicksPerMinute, 6);
        recipe.TickCeilingDbfs = recipe.PeakDbfs - 16;
        recipe.TickFloorDbfs = recipe.PeakDbfs - 36;
        recipe.DropDbfs = Math.Min(recipe.DropDbfs, recipe.PeakDbfs - 8);
        recipe.LiftDbfs = Math.Min(recipe.LiftDbfs, recipe.PeakDbfs - 12);
        recipe.RunOutThumpDbfs = Math.Min(recipe.RunOutThumpDbfs, recipe.PeakDbfs - 20);
    }

    /// <summary>The fault brings the programme to about full scale: the disc's noise is drawn for that level.</summary>
    private static void Driven(DiscRecipe recipe, SeededRandom random)
    {
        recipe.PeakDbfs = 0;
        Quietly(recipe, random);
    }

    private static void Turned(DiscRecipe recipe, double peakDbfs)
    {
        double down = peakDbfs - recipe.PeakDbfs;
        recipe.PeakDbfs = peakDbfs;
        recipe.SurfaceDba += down;
        recipe.TickCeilingDbfs = peakDbfs - 6;
        recipe.TickFloorDbfs += down;
        recipe.DropDbfs += down;
        recipe.LiftDbfs += down;
        recipe.RunOutThumpDbfs += down;
        recipe.RumbleDbfs += down;
        recipe.ArmDbfs += down;
    }

    private static void Floats(DiscRecipe recipe, SeededRandom random) => recipe.Words = WordFormat.Float32;

    private static void Poison(Side side, float value, int count)
    {
        side.Truth.Codes.Add("samples-invalid");
        side.Truth.Companions.UnionWith(["clipped-converter", "level-hot", "crackle"]);
        for (int i = 0; i < count; i++)
        {
            side.Capture.Channel(side.Random.Whole(0, 1))[side.Random.Whole(0, side.Capture.Frames - 1)] = value;
        }
    }

    private static void DriveOver(Side side, double overDb)
    {
        // The residue of the electronics was added before a gain that is about 1: scaling it with the music changes nothing that matters.
        double gain = Decibel.ToLinear(overDb) / side.MusicPeak();
        side.Capture.Scale(gain);
        for (int step = 0; step < 8; step++)
        {
            int runs = TopRuns(side.Capture.Left, 1).Count + TopRuns(side.Capture.Right, 1).Count;
            if (runs >= 8)
            {
                return;
            }

            side.Capture.Scale(Decibel.ToLinear(0.25));
        }

        throw new SideUnfitException("Too few peaks to clip.");
    }

    private static void Burst(Side side)
    {
        int middle = side.LoudFrame(1.2, 0.12);
        int half = side.RateHz;
        double local = side.Capture.Peak(middle - half, middle + half);
        double lift = Decibel.ToLinear(2) / local;
        int edge = side.RateHz / 20;
        for (int i = middle - half; i < middle + half; i++)
        {
            double distance = Math.Min(i - (middle - half), middle + half - i);
            float gain = (float)(1 + ((lift - 1) * Math.Clamp(distance / edge, 0, 1)));
            side.Capture.Left[i] *= gain;
            side.Capture.Right[i] *= gain;
        }

        if (TopRuns(side.Capture.Left, 1).Count + TopRuns(side.Capture.Right, 1).Count < 3)
        {
            throw new SideUnfitException("Too few peaks to clip.");
        }
    }

    private static void ClippedTicks(Side side)
    {
        var ticks = GrooveNoise.Make(side.Recipe.Noise, side.Music.GrooveTexture());
        int count = side.Random.Whole(3, 6);
        for (int i = 0; i < count; i++)
        {
            int frame = side.LandingFrame + (int)(side.Random.Between(0.05, 0.9) * (side.LiftFrame - side.LandingFrame));
            ticks.AddTick(side.Capture, side.Seconds(frame), side.Random.Between(2.5, 5), side.Random);
        }
    }

    private static void TellConverter(Side side)
    {
        double ceiling = Disc.Converter.Ceiling(side.Recipe.ConverterBits);
        List<(int, int)> left = TopRuns(side.Capture.Left, ceiling);
        List<(int, int)> right = TopRuns(side.Capture.Right, ceiling);
        if (left.Count + right.Count == 0)
        {
            throw new SideUnfitException("Nothing reached full scale for three frames.");
        }

        Runs.Tell(side.Truth, left, right, side.RateHz);
        side.Truth.Codes.Add("clipped-converter");
        side.Truth.Companions.Add("level-hot");
        side.Truth.Rule = PositionRule.FirstOnset;
        side.Truth.PositionTolerance = 1.01 / side.RateHz;
    }

    private static List<(int From, int To)> TopRuns(float[] samples, double level) =>
        Runs.Find(samples, LeastRunFrames, x => x >= level - 1e-9 || x <= -level + 1e-9);

    private static void Clamp(StereoSignal signal, double ceiling)
    {
        foreach (float[] channel in (float[][])[signal.Left, signal.Right])
        {
            for (int i = 0; i < channel.Length; i++)
            {
                channel[i] = (float)Math.Clamp(channel[i], -ceiling, ceiling);
            }
        }
    }

    private static void ClipHard(Side side, double overDb, bool bothPolarities)
    {
        double peak = side.MusicPeak();
        double ceiling = peak * Decibel.ToLinear(-overDb);
        int least = Math.Max(LeastRunFrames, side.RateHz / 10_000);
        List<(int From, int To)> left = [];
        List<(int From, int To)> right = [];
        for (int step = 0; left.Count + right.Count < LeastFlatTops; step++)
        {
            if (step > 8)
            {
                throw new SideUnfitException("Too few peaks to clip.");
            }

            double level = ceiling;
            left = Runs.Find(side.Capture.Left, least, x => x > level || (bothPolarities && x < -level));
            right = Runs.Find(side.Capture.Right, least, x => x > level || (bothPolarities && x < -level));
            ceiling = left.Count + right.Count < LeastFlatTops ? ceiling * Decibel.ToLinear(-0.5) : ceiling;
        }

        foreach (float[] channel in (float[][])[side.Capture.Left, side.Capture.Right])
        {
            for (int i = 0; i < channel.Length; i++)
            {
                channel[i] = (float)Math.Clamp(channel[i], bothPolarities ? -ceiling : -10 * peak, ceiling);
            }
        }

        Runs.Tell(side.Truth, left, right, side.RateHz);
        side.Truth.Codes.Add("clipped-upstream");
        side.Truth.Companions.Add("saturated");
        side.Truth.Rule = PositionRule.NearestOnset;
        side.Truth.PositionTolerance = 0.001;
    }

    private static void Resample(Side side, double ratio)
    {
        int frames = (int)(side.Capture.Frames / ratio) - 16;
        float[] left = new float[frames];
        float[] right = new float[frames];
        for (int i = 0; i < frames; i++)
        {
            left[i] = Interpolation.At(side.Capture.Left, (i * ratio) + 0.37);
            right[i] = Interpolation.At(side.Capture.Right, (i * ratio) + 0.37);
        }

        side.Capture.Replace(left, right);
        (double, double)[] spans = [.. side.Truth.Spans.Select(s => (s.FromSeconds / ratio, s.ToSeconds / ratio))];
        side.Truth.Spans.Clear();
        side.Truth.Spans.AddRange(spans);
        (int, int)[] music = [.. side.MusicSpans.Select(s => ((int)(s.From / ratio), Math.Min(frames, (int)(s.To / ratio))))];
        side.MusicSpans.Clear();
        side.MusicSpans.AddRange(music);
        side.LiftFrame = Math.Min(frames, (int)(side.LiftFrame / ratio));
    }

    /// <summary>
    /// y = C·tanh(x/C), where C makes the level that one sample in a thousand exceeds come out lower by the drive. One-sided: the other polarity
    /// stays straight, and a coupling capacitor of 3 Hz takes the shifted mean away.
    /// </summary>
    private static void Saturate(Side side, double driveDb, bool bothPolarities)
    {
        double level = Runs.Level(side, 0.001);
        double wanted = Decibel.ToLinear(-driveDb);
        double low = 0.05;
        double high = 20;
        for (int i = 0; i < 60; i++)
        {
            double u = (low + high) / 2;
            (low, high) = Math.Tanh(u) / u > wanted ? (u, high) : (low, u);
        }

        double c = level / ((low + high) / 2);
        for (int channel = 0; channel < 2; channel++)
        {
            float[] x = side.Capture.Channel(channel);
            for (int i = 0; i < x.Length; i++)
            {
                if (x[i] > 0 || bothPolarities)
                {
                    x[i] = (float)(c * Math.Tanh(x[i] / c));
                }
            }
        }

        Section.RunBoth(side.Capture, () => Section.OneZero(3, side.RateHz));
        side.Truth.Codes.Add("saturated");
        side.Truth.Companions.Add("clipped-upstream");
        side.Truth.Rule = PositionRule.Overlap;
        side.Truth.PositionTolerance = 0.1;
        side.Truth.Spans.AddRange(side.MusicSpans.Select(s => (side.Seconds(s.From), side.Seconds(s.To))));
    }
}
