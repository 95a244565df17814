using System.Collections.Immutable;
using System.Globalization;
using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>Tells where a scratch ticks once per turn.</summary>
internal static class ScratchRule
{
    public static void Add(List<Finding> findings, SideReading reading, InspectionLimits limits)
    {
        ImmutableArray<Scratch> scratches = [.. reading.Disc.Scratches.Where(scratch => scratch.Ticks >= limits.ScratchTicks)];
        if (scratches.IsEmpty)
        {
            return;
        }

        Scratch longest = scratches.MaxBy(scratch => scratch.Ticks)!;
        string more = scratches.Length == 1 ? "" : string.Create(CultureInfo.InvariantCulture, $"; {scratches.Length - 1} shorter");
        findings.Add(new Finding
        {
            Code = FindingCodes.ScratchRadial,
            Severity = FindingCodes.DefaultSeverity[FindingCodes.ScratchRadial],
            Spans = Spans.Join([.. scratches.Select(scratch => (scratch.FirstFrame, scratch.LastFrame + 1))], reading.SampleRateHz),
            Count = scratches.Sum(scratch => scratch.Ticks),
            Measured = longest.Turns,
            Limit = limits.ScratchTicks,
            Unit = "turns",
            Message = string.Create(
                CultureInfo.InvariantCulture,
                $"A scratch ticks once per turn over {longest.Turns} turns, at {longest.PeakDbfs:0} dBFS{more}."),
            Advice = "Look at the record there and listen for a jump; another copy is the only cure.",
        });
    }
}
