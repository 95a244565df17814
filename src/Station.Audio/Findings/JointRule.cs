using System.Collections.Immutable;
using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>Decides which joints are lost samples and not ticks.</summary>
/// <remarks>
/// A tick whose edge is sharper than the sample rate looks like a joint for a moment, and a disc has thousands of ticks. What tells them apart is whether the notes go on
/// in phase (<see cref="JointPhases"/>), to which the wave's shape adds a little. The side is judged as a whole: the evidence of its few best places adds up, and what counts
/// as evidence is measured on the side itself. A place that stands alone must say far more than one of several. Where many ticks look like a joint at first sight, as on a crackling disc or a long side, some must look more like one by chance. Of two places
/// that are a turn apart neither counts. A splice in the tape the disc was cut from is a joint as well, so that only a person can decide.
/// </remarks>
internal static class JointRule
{
    // Weight of the shape's logarithm, and its bounds: the best shape alone is as good as a doubtful place (own choices; ticks of clean tuning sides reach a shape of 7).
    private const double ShapeWeight = 0.5;
    private const double MostShape = 4;
    private const double LeastShape = -20;

    // Ticks that pass for a joint at first sight tell how far chance reaches. Clean tuning sides of two minutes have four in the middle, a crackling coarse-groove disc 75, long sides more.
    private const double UsualTicks = 4;

    // The scores of ticks thin out by e within this (measured on clean tuning sides: of scores above 0 one in four is above 2).
    private const double ChanceScale = 1.5;

    // More than the best three add nothing: a long row of weak places is the disc (own choice).
    private const int MostPlaces = 3;

    // Landing, lifting, the closed groove's knock: not near the ends of the music (own choice).
    private const double EdgeSeconds = 0.3;

    // A wave that is cut off at full scale has corners of its own (own choice).
    private const double ClipSeconds = 0.005;

    // A scratch or a stuck groove comes back every turn; how exactly allows for a speed that is off (own choices). Lost samples that are a turn apart by chance are left out too.
    private const double TurnTolerance = 0.015;
    private static readonly double[] TurnSeconds = [60 / (100.0 / 3), 60 / 45.0, 60 / 78.0];

    /// <summary>The joints that count, in order of time; none when the side as a whole says ticks.</summary>
    /// <param name="reading">The side.</param>
    /// <param name="isExplained">Frames at which something else is known to have happened.</param>
    /// <param name="limits">What counts.</param>
    public static ImmutableArray<Joint> Judge(SideReading reading, Func<long, bool> isExplained, InspectionLimits limits)
    {
        (ImmutableArray<Joint> likely, double least) = Likely(reading, isExplained, limits);
        double evidence = likely.Select(joint => Score(joint) - least).OrderDescending().Take(MostPlaces).Sum();
        return evidence >= (likely.Length == 1 ? limits.JointLoneEvidence : limits.JointEvidence) ? likely : [];
    }

    /// <summary>Those of which each by itself would be one of several places, in order of time.</summary>
    /// <param name="reading">The side.</param>
    /// <param name="isExplained">Frames at which something else is known to have happened.</param>
    /// <param name="limits">What counts.</param>
    public static ImmutableArray<Joint> Strong(SideReading reading, Func<long, bool> isExplained, InspectionLimits limits)
    {
        (ImmutableArray<Joint> likely, double least) = Likely(reading, isExplained, limits);
        return [.. likely.Where(joint => Score(joint) - least >= limits.JointEvidence)];
    }

    private static (ImmutableArray<Joint> Joints, double LeastScore) Likely(SideReading reading, Func<long, bool> isExplained, InspectionLimits limits)
    {
        List<Joint> all = [.. reading.Losses.Joints.Where(joint =>
            InMusic(reading, joint.Frame) && !IsClipped(reading, joint.Frame) && !isExplained(joint.Frame))];
        int ticks = all.Count(joint => Score(joint) <= limits.JointScore);
        double least = limits.JointScore + (ChanceScale * Math.Max(0, Math.Log((ticks + 1) / UsualTicks)));
        List<Joint> likely = [.. all.Where(joint => Score(joint) > least)];
        return ([.. likely.Where(joint => !likely.Exists(other => IsTurn(joint, other, reading.SampleRateHz)))], least);
    }

    /// <summary>The evidence that frames are missing here: 0 says nothing, less says tick.</summary>
    public static double Score(in Joint joint) => joint.Phase + (ShapeWeight * Math.Clamp(joint.Shape, LeastShape, MostShape));

    private static bool InMusic(SideReading reading, long frame)
    {
        double edge = EdgeSeconds * reading.SampleRateHz;
        return reading.Outline.Music.Any(span =>
            frame >= ((double)span.FirstStep * reading.Outline.StepFrames) + edge && frame <= ((double)span.EndStep * reading.Outline.StepFrames) - edge);
    }

    private static bool IsClipped(SideReading reading, long frame)
    {
        double margin = ClipSeconds * reading.SampleRateHz;
        return reading.ConverterClips.Any(run => frame >= run.FirstFrame - margin && frame <= run.FirstFrame + run.Frames + margin);
    }

    private static bool IsTurn(in Joint joint, in Joint other, int rate)
    {
        double apart = Math.Abs(joint.Frame - other.Frame) / (double)rate;
        return TurnSeconds.Any(turn => Math.Abs(apart - turn) <= TurnTolerance * turn);
    }
}
