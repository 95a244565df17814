using Station.Evaluation.Disc;
using Station.Evaluation.Signal;

namespace Station.Evaluation.Faults;

/// <summary>Dead, weak, reversed and identical channels, bad contacts.</summary>
public static class WiringFaults
{
    /// <summary><c>channel-dead</c>.</summary>
    public static FaultClass Dead { get; } = new("channel-dead", 98,
    [
        new FaultRow("only the electronics' noise", true) { Line = s => Attenuate(s, "channel-dead", 0) },
        new FaultRow("digital silence", true)
        {
            Line = s => Attenuate(s, "channel-dead", 0),
            Digital = s => Array.Clear(s.Capture.Channel(s.Truth.Channel ?? 0)),
        },
        new FaultRow("crosstalk of −46 dB left", true) { Line = DeadWithCrosstalk },
        new FaultRow("dies part-way", true) { Line = DiesPartWay },
    ]);

    /// <summary><c>channel-weak</c>.</summary>
    public static FaultClass Weak { get; } = new("channel-weak", 98,
    [
        new FaultRow("−7 dB", false) { Recipe = Balanced, Line = s => Attenuate(s, "channel-weak", Decibel.ToLinear(-7)) },
        new FaultRow("−10 dB", true) { Recipe = Balanced, Line = s => Attenuate(s, "channel-weak", Decibel.ToLinear(-10)) },
        new FaultRow("−16 dB", true) { Recipe = Balanced, Line = s => Attenuate(s, "channel-weak", Decibel.ToLinear(-16)) },
    ]);

    /// <summary><c>polarity-reversed</c>.</summary>
    public static FaultClass Reversed { get; } = new("polarity-reversed", 98,
    [
        new FaultRow("stereo disc whose bass is common to both channels", true) { Recipe = CommonBass, Pickup = Reverse },
        new FaultRow("mono disc", true) { Recipe = (r, _) => r.Mono = true, Pickup = Reverse },
        new FaultRow("stereo disc with wide bass", false)
        {
            Recipe = (r, _) => Require(r.Tracks.TrueForAll(t => t.Track.BassCorrelation is > 0.3 and < 0.75)),
            Pickup = Reverse,
        },
    ]);

    /// <summary><c>channels-identical</c>.</summary>
    public static FaultClass Identical { get; } = new("channels-identical", 80,
    [
        new FaultRow("one channel on both, bit for bit", true)
        {
            Digital = s => { s.Capture.Replace(s.Capture.Left, (float[])s.Capture.Left.Clone()); s.Truth.Codes.Add("channels-identical"); },
        },
    ]);

    /// <summary><c>contact-dropout</c>.</summary>
    public static FaultClass Dropout { get; } = new("contact-dropout", 98,
    [
        new FaultRow("5 ms", false) { Line = s => Drop(s, 0.005) },
        new FaultRow("10 ms", false) { Line = s => Drop(s, 0.010) },
        new FaultRow("20 ms", true) { Line = s => Drop(s, 0.020) },
        new FaultRow("60 ms", true) { Line = s => Drop(s, 0.060) },
        new FaultRow("250 ms", true) { Line = s => Drop(s, 0.250) },
        new FaultRow("2 s", true) { Line = s => Drop(s, 2) },
    ]);

    /// <summary>Another side is drawn unless the condition holds.</summary>
    public static void Require(bool condition)
    {
        if (!condition)
        {
            throw new SideUnfitException("The music drawn doesn't suit the fault.");
        }
    }

    /// <summary>Takes a channel out between two frames, with edges of a fraction of a millisecond.</summary>
    public static void Mute(Side side, int channel, int from, int to, double edgeSeconds, double rest)
    {
        ArgumentNullException.ThrowIfNull(side);
        float[] x = side.Capture.Channel(channel);
        int edge = Math.Max(1, (int)(edgeSeconds * side.RateHz));
        for (int i = from; i < to; i++)
        {
            double depth = Math.Min(1, Math.Min((i - from + 1.0) / edge, (to - i) / (double)edge));
            x[i] *= (float)(1 - ((1 - rest) * depth));
        }
    }

    private static void Balanced(DiscRecipe recipe, SeededRandom random)
    {
        recipe.BalanceDb = 0;
        Require(recipe.Tracks.TrueForAll(t => t.Track.BalanceDb < 1.5));
    }

    private static void CommonBass(DiscRecipe recipe, SeededRandom random) =>
        Require(!recipe.Mono && recipe.Tracks.TrueForAll(t => t.Track.BassCorrelation >= 0.75));

    private static void Attenuate(Side side, string code, double gain)
    {
        int channel = side.Random.Whole(0, 1);
        float[] x = side.Capture.Channel(channel);
        for (int i = 0; i < x.Length; i++)
        {
            x[i] *= (float)gain;
        }

        side.Truth.Codes.Add(code);
        side.Truth.Channel = channel;
        if (gain == 0)
        {
            side.Truth.Companions.Add("channel-weak");
        }
    }

    private static void DeadWithCrosstalk(Side side)
    {
        Attenuate(side, "channel-dead", 0);
        int dead = side.Truth.Channel ?? 0;
        float leak = (float)Decibel.ToLinear(-46);
        float[] to = side.Capture.Channel(dead);
        float[] from = side.Capture.Channel(1 - dead);
        for (int i = 0; i < to.Length; i++)
        {
            to[i] = leak * from[i];
        }
    }

    private static void DiesPartWay(Side side)
    {
        int at = side.LoudFrame(0.3, 0.05, 0.2, 0.75);
        int channel = side.Random.Whole(0, 1);
        Mute(side, channel, at, side.Capture.Frames, 0.002, 0);
        side.Truth.Codes.AddRange(["channel-dead", "contact-dropout"]);
        side.Truth.Companions.Add("channel-weak");
        side.Truth.Channel = channel;
        side.Truth.Spans.Add((side.Seconds(at), side.Seconds(side.Capture.Frames)));
        side.Truth.Rule = PositionRule.Overlap;
        side.Truth.PositionTolerance = 1;
    }

    private static void Reverse(Side side)
    {
        float[] x = side.Capture.Channel(side.Random.Whole(0, 1));
        for (int i = 0; i < x.Length; i++)
        {
            x[i] = -x[i];
        }

        side.Truth.Codes.Add("polarity-reversed");
    }

    private static void Drop(Side side, double seconds)
    {
        int middle = side.LoudFrame(Math.Max(0.06, seconds * 0.75), 0.04);
        int from = middle - (int)(seconds / 2 * side.RateHz);
        int to = from + (int)Math.Round(seconds * side.RateHz);
        int channel = side.Random.Whole(0, 1);
        Require(side.Capture.Rms(channel, from, to) > 0.03 * side.MusicPeak());
        Mute(side, channel, from, to, side.Random.Between(0.00005, 0.0006), side.Random.Chance(0.5) ? 0 : Decibel.ToLinear(-50));
        side.Truth.Codes.Add("contact-dropout");
        side.Truth.Channel = channel;
        side.Truth.Spans.Add((side.Seconds(from), side.Seconds(to)));
        side.Truth.Rule = PositionRule.Overlap;
        side.Truth.PositionTolerance = 0.02;
        side.Truth.PlaceDecides = true;
    }
}
