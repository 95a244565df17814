using Station.Audio.Reading;
using Station.Evaluation.Disc;
using Station.Evaluation.Signal;

namespace Station.Evaluation.Faults;

/// <summary>Faults of chain, file and timing.</summary>
public static class ChainFaults
{
    /// <summary><c>depth-padded</c>.</summary>
    public static FaultClass Padded { get; } = new("depth-padded", 80,
    [
        new FaultRow("16 bits in a 24-bit file", true) { Recipe = (r, n) => Pad(r, 16, n.Chance(0.5)), Settle = s => s.Truth.Codes.Add("depth-padded") },
        new FaultRow("20 bits in a 24-bit file", false) { Recipe = (r, _) => Pad(r, 20, false), Settle = s => s.Truth.Codes.Add("depth-padded") },
    ]);

    /// <summary><c>top-octave-empty</c>.</summary>
    public static FaultClass TopEmpty { get; } = new("top-octave-empty", 80,
    [
        new FaultRow("96 kHz made from 48 kHz", true) { Recipe = (r, _) => Rate(r, 96000), Input = s => Empty(s, 21500) },
        new FaultRow("cut off at 15.5 kHz, as a lossy codec does", true) { Recipe = (r, n) => Rate(r, n.Chance(0.5) ? 44100 : 48000), Input = s => Empty(s, 15500) },
        new FaultRow("cut off at 10 kHz, 44.1 kHz made from 22.05 kHz", true) { Recipe = (r, _) => Rate(r, 44100), Input = s => Empty(s, 10000) },
        new FaultRow("cut off at 19 kHz", false) { Recipe = (r, _) => Rate(r, 48000), Input = s => Empty(s, 19000) },
    ]);

    /// <summary><c>samples-lost</c>.</summary>
    public static FaultClass Lost { get; } = new("samples-lost", 98,
    [
        new FaultRow("5 ms of zeros, once", true) { Digital = s => Lose(s, Loss.Zeros, 1, 0.005, 0.005) },
        new FaultRow("0.5 to 20 ms of zeros, 4 times", true) { Digital = s => Lose(s, Loss.Zeros, 4, 0.0005, 0.02) },
        new FaultRow("a buffer of 256 to 2048 frames twice over, once", true) { Digital = s => Lose(s, Loss.Repeat, 1, 0, 0) },
        new FaultRow("buffers twice over, 3 times", true) { Digital = s => Lose(s, Loss.Repeat, 3, 0, 0) },
        new FaultRow("64 to 2048 frames missing, once", false) { Digital = s => Lose(s, Loss.Missing, 1, 0, 0) },
        new FaultRow("64 to 2048 frames missing, 3 times", true) { Digital = s => Lose(s, Loss.Missing, 3, 0, 0) },
        new FaultRow("64 to 2048 frames missing, 8 times", true) { Digital = s => Lose(s, Loss.Missing, 8, 0, 0) },
    ]);

    /// <summary><c>treble-loss</c>.</summary>
    public static FaultClass TrebleLoss { get; } = new("treble-loss", 80,
    [
        new FaultRow("6 dB at 10 kHz by the end", false) { Recipe = ThreeTracks, Pickup = s => Dull(s, 2000, 0.53) },
        new FaultRow("12 dB at 10 kHz by the end", true) { Recipe = ThreeTracks, Pickup = s => Dull(s, 2000, 0.87) },
        new FaultRow("18 dB at 10 kHz by the end", true) { Recipe = ThreeTracks, Pickup = s => Dull(s, 1100, 0.99) },
    ]);

    /// <summary><c>equalisation-missing</c>.</summary>
    public static FaultClass CurveMissing { get; } = new("equalisation-missing", 90,
    [
        new FaultRow("no replay curve", true) { Line = s => Curve(s, ReplayCurve.Missing, "equalisation-missing") },
    ]);

    /// <summary><c>equalisation-doubled</c>.</summary>
    public static FaultClass CurveDoubled { get; } = new("equalisation-doubled", 90,
    [
        new FaultRow("replay curve twice", true) { Line = s => Curve(s, ReplayCurve.Replay, "equalisation-doubled") },
    ]);

    /// <summary><c>begins-late</c>.</summary>
    public static FaultClass BeginsLate { get; } = new("begins-late", 90,
    [
        new FaultRow("inside the music", true) { Line = CutStart },
        new FaultRow("80 ms of groove before a hard start", false) { Recipe = (r, _) => r.Tracks[0].FadeInSeconds = 0.004, Line = CutShortLeadIn },
    ]);

    /// <summary><c>ends-early</c>.</summary>
    public static FaultClass EndsEarly { get; } = new("ends-early", 90,
    [
        new FaultRow("inside the last track", true) { Line = s => CutEnd(s, s.MusicSpans.Count - 1) },
        new FaultRow("inside an earlier track, with a sheet", true) { Recipe = (r, _) => r.HasSheet = true, Line = s => CutEnd(s, 0) },
        new FaultRow("in the fade of the last track", false) { Recipe = (r, _) => r.Tracks[^1].FadeOutSeconds = 4, Line = CutFade },
    ]);

    private enum Loss
    {
        Zeros,
        Repeat,
        Missing,
    }

    private static void Pad(DiscRecipe recipe, int bits, bool dither)
    {
        recipe.Words = WordFormat.Int24;
        recipe.ConverterBits = bits;
        recipe.Dither = dither;
    }

    private static void Rate(DiscRecipe recipe, int rateHz)
    {
        recipe.SampleRateHz = rateHz;
        recipe.Words = WordFormat.Int24;
        recipe.ConverterBits = 24;
        recipe.Dither = false;
    }

    private static void Empty(Side side, double hz)
    {
        foreach (float[] channel in (float[][])[side.Capture.Left, side.Capture.Right])
        {
            foreach (Section section in Section.SteepLowPass(hz, 20, side.RateHz))
            {
                section.Run(channel);
            }
        }

        side.Truth.Codes.Add("top-octave-empty");
    }

    private static void Lose(Side side, Loss kind, int times, double shortest, double longest)
    {
        side.Truth.Codes.Add("samples-lost");
        side.Truth.Rule = PositionRule.Overlap;
        side.Truth.PositionTolerance = 0.02;
        side.Truth.PlaceDecides = true;
        int[] buffers = kind == Loss.Missing ? [64, 128, 192, 256, 441, 480, 512, 1024, 2048] : [256, 441, 480, 512, 1024, 2048];

        // From the back, so that frames taken out don't move the places still to come.
        int[] places = [.. Enumerable.Range(0, times).Select(_ => side.LoudFrame(0.05, 0.03)).OrderDescending()];
        int taken = 0;
        var spans = new List<(int From, int Frames, int Before)>();
        foreach (int place in places)
        {
            int frames = kind == Loss.Zeros ? Math.Max(8, (int)(side.Random.Between(shortest, longest) * side.RateHz)) : side.Random.Pick(buffers);
            for (int channel = 0; channel < 2; channel++)
            {
                float[] x = side.Capture.Channel(channel);
                int end = Math.Min(place + frames, x.Length);
                switch (kind)
                {
                    case Loss.Zeros:
                        Array.Clear(x, place, end - place);
                        break;
                    case Loss.Repeat:
                        Array.Copy(x, place - frames, x, place, end - place);
                        break;
                    default:
                        Array.Copy(x, end, x, place, x.Length - end);
                        break;
                }
            }

            taken += kind == Loss.Missing ? frames : 0;
            spans.Add((place, kind == Loss.Missing ? 0 : frames, kind == Loss.Missing ? frames : 0));
        }

        // Each place lies earlier by what was taken out before it.
        int before = 0;
        foreach ((int from, int frames, int removed) in Enumerable.Reverse(spans))
        {
            side.Truth.Spans.Add((side.Seconds(from - before), side.Seconds(from - before + frames)));
            before += removed;
        }

        if (taken > 0)
        {
            side.Trim(0, side.Capture.Frames - taken);
        }
    }

    /// <summary>The longest track becomes two until there are three: the fault is heard in the gaps between.</summary>
    private static void ThreeTracks(DiscRecipe recipe, SeededRandom random)
    {
        while (recipe.Tracks.Count < 3)
        {
            TrackPlan whole = recipe.Tracks.MaxBy(t => t.Seconds) ?? throw new SideUnfitException("There is no track.");
            double half = whole.Seconds / 2;
            var second = new TrackPlan
            {
                Track = whole.Track,
                StartSeconds = whole.StartSeconds + half,
                Seconds = half,
                FadeInSeconds = 0.02,
                FadeOutSeconds = whole.FadeOutSeconds,
                LevelDb = whole.LevelDb,
                GapSeconds = whole.GapSeconds,
            };
            recipe.Tracks.Insert(recipe.Tracks.IndexOf(whole) + 1, second);
            whole.Seconds = half;
            whole.GapSeconds = random.Between(2, 4.5);
        }
    }

    /// <summary>A growing share of the signal goes through a low-pass.</summary>
    private static void Dull(Side side, double hz, double lastShare)
    {
        for (int channel = 0; channel < 2; channel++)
        {
            Section low = Section.OnePole(hz, side.RateHz);
            float[] x = side.Capture.Channel(channel);
            double length = side.LiftFrame - side.LandingFrame;
            for (int i = 0; i < x.Length; i++)
            {
                double share = lastShare * Math.Clamp((i - side.LandingFrame) / length, 0, 1);
                x[i] = (float)(x[i] + (share * (low.Next(x[i]) - x[i])));
            }
        }

        side.Truth.Codes.Add("treble-loss");
    }

    private static void Curve(Side side, Func<double, Section[]> curve, string code)
    {
        foreach (float[] channel in (float[][])[side.Capture.Left, side.Capture.Right])
        {
            foreach (Section section in curve(side.RateHz))
            {
                section.Run(channel);
            }
        }

        side.Truth.Codes.Add(code);
        side.Truth.Companions.UnionWith(["surface-noise", "rumble", "crackle"]);
    }

    private static void CutStart(Side side)
    {
        (int from, int to) = side.MusicSpans[0];
        for (int attempt = 0; attempt < 60; attempt++)
        {
            int start = from + (int)(side.Random.Between(0.01, 0.5) * (to - from));
            if (side.Capture.Rms(0, start, start + (side.RateHz / 2)) > 0.05 * side.MusicPeak())
            {
                Begin(side, start);
                return;
            }
        }

        throw new SideUnfitException("The first track is too quiet.");
    }

    private static void CutShortLeadIn(Side side)
    {
        int start = side.MusicSpans[0].From;
        WiringFaults.Require(side.Capture.Rms(0, start, start + (side.RateHz / 3)) > 0.05 * side.MusicPeak());
        Begin(side, start - (int)(0.08 * side.RateHz));
    }

    private static void Begin(Side side, int start)
    {
        side.Trim(start, side.Capture.Frames);
        side.Truth.Codes.Add("begins-late");
        side.Truth.Companions.UnionWith(["tracks-unexpected", "division-unsure"]);
    }

    private static void CutEnd(Side side, int track)
    {
        WiringFaults.Require(track < side.MusicSpans.Count);
        (int from, int to) = side.MusicSpans[track];
        for (int attempt = 0; attempt < 60; attempt++)
        {
            int end = from + (int)(side.Random.Between(0.4, 0.95) * (to - from));
            if (end > 60 * side.RateHz && side.Capture.Rms(0, end - (side.RateHz / 2), end) > 0.05 * side.MusicPeak())
            {
                End(side, end);
                return;
            }
        }

        throw new SideUnfitException("The track is too quiet.");
    }

    private static void CutFade(Side side) => End(side, side.MusicSpans[^1].To - (2 * side.RateHz));

    private static void End(Side side, int end)
    {
        side.Trim(0, end);
        side.Truth.Codes.Add("ends-early");
        side.Truth.Companions.UnionWith(["tracks-unexpected", "division-unsure"]);
    }
}
