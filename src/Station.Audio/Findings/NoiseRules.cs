using Station.Audio.Meters;

namespace Station.Audio.Findings;


/// <summary>All that is judged from <see cref="SideReading.Noise"/>.</summary>
internal static class NoiseRules
{
    /// <summary>The findings.</summary>
    public static IEnumerable<Finding> Judge(SideReading reading, InspectionLimits limits, SideExpectations expected)
    {
        Finding?[] findings =
        [
            HumRule.Judge(reading, limits),
            RumbleRule.Judge(reading.Noise, limits),
            SurfaceNoiseRule.Judge(reading.Noise, limits),
            TrebleLossRule.Judge(reading.Noise.Treble, limits),
            ReplayCurveRule.Judge(reading.Noise, limits, expected),
        ];
        return findings.OfType<Finding>();
    }
}
