using System.Globalization;
using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>Rumble above its limit.</summary>
internal static class RumbleRule
{
    /// <summary>The finding; null when there is nothing to say.</summary>
    public static Finding? Judge(NoiseReading noise, InspectionLimits limits)
    {
        if (noise.RumbleDbfs is not double level || level < limits.RumbleNoteDbfs)
        {
            return null;
        }

        return new Finding
        {
            Code = FindingCodes.Rumble,
            Severity = level < limits.RumbleReviewDbfs ? FindingCodes.DefaultSeverity[FindingCodes.Rumble] : Severity.Review,
            Measured = level,
            Limit = limits.RumbleNoteDbfs,
            Unit = "dBFS",
            Message = string.Create(CultureInfo.InvariantCulture, $"Rumble between 15 and 100 Hz lies at {level:0.0} dBFS in the bare groove."),
            Advice = "Play another record to tell the turntable from the pressing; then level it, clean and oil its bearing, check belt or idler, and stand it on something heavy, away from the loudspeakers.",
        };
    }
}
