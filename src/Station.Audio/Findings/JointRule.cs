using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>Decides which joints are lost samples and not ticks.</summary>
internal static class JointRule
{
    /// <summary>The joints that count.</summary>
    public static IEnumerable<Joint> Accepted(SideReading reading, InspectionLimits limits)
    {
        _ = limits;
        return reading.Losses.Joints;
    }
}
