using System.Collections.Immutable;
using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>Decides which joints are lost samples and not ticks.</summary>
/// <remarks>
/// A tick whose edge is sharper than the sample rate, and which rings below the music, looks like a joint for a moment. So the measures of a joint are weighed together (a logistic
/// score: its weights were fitted to 2,160 joints cut into 120 clean tuning sides and to the 1,200 most joint-like ticks of the same sides, seven in ten joints scoring above 2.1 and one
/// tick in a hundred above 2.8); what returns once per turn is the disc's; and one look-alike alone is never a finding.
/// </remarks>
internal static class JointRule
{
    // Weights of the score's terms.
    private const double SplitWeight = 1.56;
    private const double MismatchWeight = -1.62;
    private const double ExcessWeight = -0.70;
    private const double FlatWeight = -1.20;
    private const double SteepWeight = -0.45;
    private const double BreakWeight = 2.04;
    private const double Offset = -3.05;

    // Where each term begins to count: what three joints in four have.
    private const double UsualMismatch = 1.5;
    private const double UsualExcess = 1.2;
    private const double UsualHeight = 0.5;
    private const double LeastBreak = 0.5;
    private const double MostBreakLog = 2;

    // Landing, lifting, the closed groove's knock: not near the ends of the music (own choice).
    private const double EdgeSeconds = 0.3;

    // Of the sharp ticks of a crackling disc one in a hundred looks like a joint: several joints mean nothing among hundreds of ticks (own choice).
    private const double LeastShare = 0.07;

    // A scratch or a stuck groove comes back every turn; how exactly allows for a speed that is off (own choices).
    private const double TurnTolerance = 0.015;
    private static readonly double[] TurnSeconds = [60 / (100.0 / 3), 60 / 45.0, 60 / 78.0];

    /// <summary>The joints that count, in order of time; none when there are too few of them.</summary>
    public static ImmutableArray<Joint> Accepted(SideReading reading, InspectionLimits limits)
    {
        List<Joint> all = [.. reading.Losses.Joints.Where(joint => InMusic(reading, joint.Frame))];
        List<Joint> likely = [.. all.Where(joint => Score(joint) >= limits.JointScore)];
        List<Joint> single = [.. likely.Where(joint => !likely.Exists(other => IsTurn(joint, other, reading.SampleRateHz)))];
        bool outnumbered = single.Count < LeastShare * (all.Count - single.Count);
        return single.Count >= limits.FewestJoints && !outnumbered ? [.. single] : [];
    }

    /// <summary>How much likelier a joint is than a tick, natural logarithm, for as many of the one as of the other.</summary>
    public static double Score(in Joint joint) =>
        Offset
        + (SplitWeight * Math.Log(joint.Split))
        + (MismatchWeight * Math.Max(0, joint.MismatchAbove - UsualMismatch))
        + (ExcessWeight * Math.Max(0, Math.Log(joint.Excess / UsualExcess)))
        + (FlatWeight * Math.Max(0, Math.Log(UsualHeight / Math.Max(1e-6, joint.MismatchBelow))))
        + (SteepWeight * Math.Max(0, Math.Log(joint.Steepness)))
        + (BreakWeight * Math.Min(MostBreakLog, Math.Log(Math.Max(LeastBreak, joint.Break))));

    private static bool InMusic(SideReading reading, long frame)
    {
        double edge = EdgeSeconds * reading.SampleRateHz;
        return reading.Outline.Music.Any(span =>
            frame >= ((double)span.FirstStep * reading.Outline.StepFrames) + edge && frame <= ((double)span.EndStep * reading.Outline.StepFrames) - edge);
    }

    private static bool IsTurn(in Joint joint, in Joint other, int rate)
    {
        double apart = Math.Abs(joint.Frame - other.Frame) / (double)rate;
        return TurnSeconds.Any(turn => Math.Abs(apart - turn) <= TurnTolerance * turn);
    }
}
