using System.Globalization;
using Station.Audio.Division;
using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>Tells of a stylus that was lifted and set down inside a capture. The only place that makes the finding; what it means for the sides named, its caller says.</summary>
public static class SideChangeRule
{
    /// <summary>The finding of a capture that should hold one side, or null when the stylus was not lifted inside it or there is music on one side of the lift only.</summary>
    /// <param name="envelope">The capture's level.</param>
    /// <param name="parting">How it was parted.</param>
    /// <param name="side">The side's letter; null when it isn't known.</param>
    public static Finding? Judge(LevelEnvelope envelope, CaptureParting parting, char? side)
    {
        ArgumentNullException.ThrowIfNull(envelope);
        ArgumentNullException.ThrowIfNull(parting);
        if (parting.Lifts.IsEmpty || parting.Played.Length <= 1)
        {
            return null;
        }

        string which = side is char letter ? $"side {letter}" : "the side";
        string name = side is char own ? $"-{own}{(own == 'Z' ? 'Z' : (char)(own + 1))}" : "for both";
        return Tell(
            envelope, parting, Severity.Review,
            string.Create(
                CultureInfo.InvariantCulture,
                $"The stylus was lifted and set down again inside {which}: music lies before and after it ({Times(envelope, parting)})."),
            $"If the file holds two sides, name it {name} and drop it again; if music was missed, play {which} again; accept to keep it as one side.");
    }

    /// <summary>A finding that names the lifts and what they were told by.</summary>
    /// <param name="envelope">The capture's level.</param>
    /// <param name="parting">How it was parted.</param>
    /// <param name="severity">How much it matters.</param>
    /// <param name="message">What was found, one sentence.</param>
    /// <param name="advice">What to do, one line.</param>
    public static Finding Tell(LevelEnvelope envelope, CaptureParting parting, Severity severity, string message, string advice)
    {
        ArgumentNullException.ThrowIfNull(envelope);
        ArgumentNullException.ThrowIfNull(parting);
        (double? measured, double? limit, string? unit) = parting.Stylus.Cue switch
        {
            StylusCue.Subsonics => (parting.Stylus.UpSubsonicDb, parting.Stylus.GrooveSubsonicDb, "dB, 5 to 36 Hz"),
            StylusCue.GrooveNoise => (parting.Stylus.UpLevelDb, parting.Stylus.GrooveLevelDb, "dB, 200 Hz to 9 kHz"),
            _ => ((double?)null, (double?)null, (string?)null),
        };
        return new Finding
        {
            Code = FindingCodes.SideChangeInside,
            Severity = severity,
            Spans = [.. parting.Lifts.Select(up => new SecondsSpan(Second(envelope, up.FirstStep), Second(envelope, up.EndStep)))],
            Count = parting.Lifts.Length,
            Measured = measured is { } m ? Math.Round(m, 1) : null,
            Limit = limit is { } l ? Math.Round(l, 1) : null,
            Unit = unit,
            Message = message,
            Advice = advice,
        };
    }

    private static string Times(LevelEnvelope envelope, CaptureParting parting) => string.Join(
        ", ", parting.Lifts.Select(up => $"{Clock(Second(envelope, up.FirstStep))} to {Clock(Second(envelope, up.EndStep))}"));

    private static string Clock(double seconds) =>
        string.Create(CultureInfo.InvariantCulture, $"{(int)Math.Round(seconds) / 60}:{(int)Math.Round(seconds) % 60:00}");

    private static double Second(LevelEnvelope envelope, int step) => (double)step * envelope.StepFrames / envelope.SampleRateHz;
}
