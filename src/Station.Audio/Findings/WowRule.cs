using System.Globalization;
using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>Judges how far the pitch sways once per turn.</summary>
internal static class WowRule
{
    public static void Add(List<Finding> findings, SideReading reading, InspectionLimits limits)
    {
        if (reading.Disc.Sway is not { IsCertain: true } sway || sway.PeakPercent < limits.WowPercent)
        {
            return;
        }

        findings.Add(new Finding
        {
            Code = FindingCodes.Wow,
            Severity = FindingCodes.DefaultSeverity[FindingCodes.Wow],
            Measured = sway.PeakPercent,
            Limit = limits.WowPercent,
            Unit = "%",
            Message = string.Create(
                CultureInfo.InvariantCulture,
                $"The pitch sways by ±{sway.PeakPercent:0.0} % once per turn; at neighbouring rates music makes {sway.NeighboursPercent:0.00} %."),
            Advice = "Centre the record on the spindle and see that it lies flat; a hole off centre is a pressing fault of this copy.",
        });
    }
}
