using System.Globalization;
using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>Groove noise above its limit.</summary>
internal static class SurfaceNoiseRule
{
    /// <summary>The finding; null when there is nothing to say.</summary>
    public static Finding? Judge(NoiseReading noise, InspectionLimits limits)
    {
        if (noise.NoiseFloorDba is not double level || level < limits.SurfaceNoiseNoteDba)
        {
            return null;
        }

        return new Finding
        {
            Code = FindingCodes.SurfaceNoise,
            Severity = level < limits.SurfaceNoiseReviewDba ? FindingCodes.DefaultSeverity[FindingCodes.SurfaceNoise] : Severity.Review,
            Measured = level,
            Limit = limits.SurfaceNoiseNoteDba,
            Unit = "dBFS, A-weighted",
            Message = string.Create(CultureInfo.InvariantCulture, $"The bare groove hisses at {level:0.0} dBFS, A-weighted."),
            Advice = "Clean the record and the stylus and play the side again, if it is worth it; a worn or coarse groove stays as it is.",
        };
    }
}
