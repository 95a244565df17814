using System.Globalization;
using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>Judges how often the groove ticks where it lies bare.</summary>
internal static class CrackleRule
{
    public static void Add(List<Finding> findings, SideReading reading, InspectionLimits limits)
    {
        if (reading.Disc.TickRates is not { GroovePerMinute: double rate } rates || rate < limits.TicksPerMinute)
        {
            return;
        }

        findings.Add(new Finding
        {
            Code = FindingCodes.Crackle,
            Severity = FindingCodes.DefaultSeverity[FindingCodes.Crackle],
            Count = (int)Math.Min(int.MaxValue, rates.GrooveCount),
            Measured = rate,
            Limit = limits.TicksPerMinute,
            Unit = "ticks/min",
            Message = string.Create(
                CultureInfo.InvariantCulture,
                $"The bare groove crackles: {rate:0} ticks a minute at least {TickRates.LeastAboveNoiseDb:0} dB above its noise, counted over {rates.GrooveSeconds:0} s."),
            Advice = "Clean the record and the stylus and play this side again if the crackle bothers you; in dry air, static crackles too.",
        });
    }
}
