using System.Globalization;
using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>Judges dead, weak, reversed and identical channels.</summary>
internal static class WiringRule
{
    // A channel whose bass is out of phase with the other's throughout, whatever the mix; for a disc that is said to be mono the deep bass may be rumble.
    private const double LeastUpperCorrelation = -0.1;
    private const double MonoCorrelation = -0.9;
    private const double LeastPartsShare = 0.75;
    private const double PartCorrelation = -0.3;

    /// <summary>Judges the wiring.</summary>
    public static IEnumerable<Finding> Judge(SideReading reading, InspectionLimits limits, SideExpectations expected)
    {
        if (reading.Wiring is not { } wiring)
        {
            return [];
        }

        if (wiring.Identical)
        {
            return [Identical(expected)];
        }

        List<DeadStretch> dead = [.. wiring.Dead.Where(stretch => IsDead(stretch, wiring, limits))];
        if (dead.Count > 0)
        {
            return dead.Select(stretch => Dead(stretch, reading, limits));
        }

        List<Finding> findings = [];
        if (WeakBy(wiring, limits) is double difference)
        {
            findings.Add(Weak(wiring, difference, limits));
        }

        if (IsReversed(wiring, limits, expected))
        {
            findings.Add(Reversed(wiring, limits));
        }

        return findings;
    }

    // Silence where the other channel plays is no groove's; neither is noise far below the other wall's. Without bare groove to compare on, the arm's
    // resonance must be missing as well: a hard-panned mix rests in one channel, the arm doesn't.
    private static bool IsDead(DeadStretch stretch, WiringReading wiring, InspectionLimits limits) =>
        stretch.NoiseBelowDb is not double below
        || (below >= limits.DeadChannelNoiseDb
            && (!stretch.Whole || wiring.NoiseSeconds > 0 || Toward(stretch.Channel, wiring.SubsonicDifferenceDb) >= limits.DeadChannelNoiseDb));

    // How far the channel lies below the other one.
    private static double Toward(int channel, double? differenceDb) => (channel == 0 ? -1 : 1) * (differenceDb ?? 0);

    // Music is panned, the groove's noise isn't: only what both have in common is the channel's. Without bare groove, arm and bass must say it.
    private static double? WeakBy(WiringReading wiring, InspectionLimits limits)
    {
        if (wiring.MusicDifferenceDb is not double music)
        {
            return null;
        }

        double?[] others = wiring.NoiseSeconds >= limits.LeastNoiseSeconds
            ? [wiring.NoiseDifferenceDb]
            : [wiring.SubsonicDifferenceDb, wiring.BassDifferenceDb];
        double least = Math.Abs(music);
        foreach (double? other in others)
        {
            least = other is double difference && Math.Sign(difference) == Math.Sign(music) ? Math.Min(least, Math.Abs(difference)) : 0;
        }

        return least >= limits.WeakChannelDb ? Math.Sign(music) * least : null;
    }

    private static bool IsReversed(WiringReading wiring, InspectionLimits limits, SideExpectations expected)
    {
        if (wiring.UpperBassCorrelation is not double upper || wiring.DeepBassCorrelation is not double deep)
        {
            return false;
        }

        bool throughout = wiring.DeepBassParts.Length > 0
            && wiring.DeepBassParts.Count(part => part <= PartCorrelation) >= LeastPartsShare * wiring.DeepBassParts.Length;
        return (deep <= limits.ReversedBassCorrelation && throughout && upper <= LeastUpperCorrelation)
            || upper <= MonoCorrelation
            || (expected.Mono == true && upper <= limits.ReversedBassCorrelation);
    }

    private static Finding Identical(SideExpectations expected) => new()
    {
        Code = FindingCodes.ChannelsIdentical,
        Severity = FindingCodes.DefaultSeverity[FindingCodes.ChannelsIdentical],
        Channel = FindingChannel.Both,
        Message = "Both channels hold the very same samples: no stereo pickup delivers that.",
        Advice = expected.Mono == false
            ? "The disc is stereo and the capture is not: look for a mono switch, a Y cable or a mono setting in the recorder, and play this side again."
            : "If the disc is stereo, look for a mono switch, a Y cable or a mono setting in the recorder; for a mono disc there is nothing to do.",
    };

    private static Finding Dead(DeadStretch stretch, SideReading reading, InspectionLimits limits)
    {
        string side = Name(stretch.Channel);
        double start = Seconds(reading, stretch.FirstStep);
        double end = Math.Min((double)reading.Frames / reading.SampleRateHz, Seconds(reading, stretch.EndStep));
        return new Finding
        {
            Code = FindingCodes.ChannelDead,
            Severity = FindingCodes.DefaultSeverity[FindingCodes.ChannelDead],
            Channel = stretch.Channel == 0 ? FindingChannel.Left : FindingChannel.Right,
            Spans = [new SecondsSpan(start, end)],
            Measured = stretch.NoiseBelowDb is double below ? Math.Round(-below, 1) : null,
            Limit = stretch.NoiseBelowDb is null ? null : -limits.DeadChannelNoiseDb,
            Unit = stretch.NoiseBelowDb is null ? null : "dB re the groove's noise",
            Message = stretch switch
            {
                { Whole: true, NoiseBelowDb: null } => $"The {side} channel is digital silence while the other one plays.",
                { Whole: true } => string.Create(
                    CultureInfo.InvariantCulture, $"The {side} channel is dead: music {-stretch.DifferenceDb:0} dB below the other one, and no groove noise of its own."),
                _ => string.Create(CultureInfo.InvariantCulture, $"The {side} channel is dead for {end - start:0} s while the other one plays."),
            },
            Advice = $"Check the {side} channel's plugs, the cartridge's four pins and the recorder's input, then play this side again; switch off and unplug mains equipment before opening it.",
        };
    }

    private static Finding Weak(WiringReading wiring, double difference, InspectionLimits limits)
    {
        string side = Name(difference < 0 ? 0 : 1);
        return new Finding
        {
            Code = FindingCodes.ChannelWeak,
            Severity = FindingCodes.DefaultSeverity[FindingCodes.ChannelWeak],
            Channel = difference < 0 ? FindingChannel.Left : FindingChannel.Right,
            Measured = Math.Round(-Math.Abs(difference), 1),
            Limit = -limits.WeakChannelDb,
            Unit = "dB re the other channel",
            Message = string.Create(
                CultureInfo.InvariantCulture,
                $"The {side} channel is weak: its music lies {Math.Abs(wiring.MusicDifferenceDb ?? 0):0.0} dB below the other channel's, and so does the groove's noise."),
            Advice = $"Check the {side} channel's plugs, the balance and both input level controls; clean and reseat the cartridge's pins. Play this side again, or accept if the disc itself is so.",
        };
    }

    private static Finding Reversed(WiringReading wiring, InspectionLimits limits) => new()
    {
        Code = FindingCodes.PolarityReversed,
        Severity = FindingCodes.DefaultSeverity[FindingCodes.PolarityReversed],
        Measured = Math.Round(wiring.DeepBassCorrelation ?? 0, 2),
        Limit = limits.ReversedBassCorrelation,
        Unit = "correlation of the bass",
        Message = "One channel is reversed in polarity: the bass of left and right is out of phase throughout the side.",
        Advice = "Swap the two wires of one channel at the cartridge (or its plug) and play a record with common bass; if this disc alone is so, accept it.",
    };

    private static string Name(int channel) => channel == 0 ? "left" : "right";

    private static double Seconds(SideReading reading, int step) => (double)step * reading.Envelope.StepFrames / reading.SampleRateHz;
}
