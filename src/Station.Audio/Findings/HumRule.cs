using System.Globalization;
using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>Mains hum above its limit.</summary>
internal static class HumRule
{
    /// <summary>The finding; null when there is nothing to say.</summary>
    public static Finding? Judge(SideReading reading, InspectionLimits limits)
    {
        if (reading.Noise.Hum is not { } hum || hum.LevelDbfs.Max() is not double level || level < limits.HumNoteDbfs)
        {
            return null;
        }

        return new Finding
        {
            Code = FindingCodes.MainsHum,
            // Under music throughout, the level is an upper bound, and the hum is masked.
            Severity = level < limits.HumReviewDbfs || !hum.IsHeardInQuiet ? FindingCodes.DefaultSeverity[FindingCodes.MainsHum] : Severity.Review,
            Channel = reading.Channels == 1 ? null : (hum.LevelDbfs[0] >= limits.HumNoteDbfs, hum.LevelDbfs[1] >= limits.HumNoteDbfs) switch
            {
                (true, false) => FindingChannel.Left,
                (false, true) => FindingChannel.Right,
                _ => FindingChannel.Both,
            },
            Measured = level,
            Limit = limits.HumNoteDbfs,
            Unit = "dBFS",
            Message = string.Create(CultureInfo.InvariantCulture, $"Mains hum of {hum.FundamentalHz:0.00} Hz runs through the whole capture at {level:0.0} dBFS."),
            Advice = "Unplug everything first; then check the turntable's earth wire, the cartridge leads and cables, and move the phono stage away from transformers. "
                + "Opening mains equipment is for licensed persons, by local code.",
        };
    }
}
