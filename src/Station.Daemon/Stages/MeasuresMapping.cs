using System.Collections.Immutable;
using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Daemon.Jobs.Reporting;

namespace Station.Daemon.Stages;

/// <summary>From the meters' reading to the report's measures, rounded to what the meters can tell.</summary>
internal static class MeasuresMapping
{
    // Music whose channels differ by less than this is a mono groove's, whatever the sheet says: near-mono mixes lie beside it. Own choice.
    private const double MonoResidualDb = -14;

    /// <param name="reading">What was measured.</param>
    /// <param name="expected">What the sheet says of the side; null when there is none.</param>
    public static ReportMeasures ToMeasures(SideReading reading, SideExpectations? expected = null) => new()
    {
        SamplePeakDbfs = Round(reading.SamplePeakDbfs, 2),
        TruePeakDbtp = Round(reading.TruePeakDbtp, 2),
        ProgrammePeakDbfs = Round(reading.ProgrammePeakDbfs, 2),
        LoudnessLufs = Round(reading.LoudnessLufs, 2),
        MaxMomentaryLufs = Round(reading.MaxMomentaryLufs, 2),
        MaxShortTermLufs = Round(reading.MaxShortTermLufs, 2),
        LoudnessRangeLu = Round(reading.LoudnessRangeLu, 1),
        RmsDbfs = Round(reading.RmsDbfs, 2),
        CrestFactorDb = Round(reading.CrestFactorDb, 2),
        DcOffset = [.. reading.DcOffset.Select(v => Round(v, 7))],
        BalanceDb = Round(reading.BalanceDb, 2),
        Correlation = Round(reading.Correlation, 4),
        Mono = Mono(reading.Wiring?.Mono, expected?.Mono),
        NoiseFloorDbfs = Round(reading.Noise.NoiseFloorDbfs, 1),
        NoiseFloorDba = Round(reading.Noise.NoiseFloorDba, 1),
        Hum = reading.Noise.Hum is { } hum ? new ReportHum(Math.Round(hum.FundamentalHz, 3), Round(hum.LevelDbfs, 1)) : null,
        RumbleDbfs = Round(reading.Noise.RumbleDbfs, 1),
        TicksPerMinute = Round(reading.Disc.TickRates?.GroovePerMinute, 1),
        Revolution = ToRevolution(reading.Disc.Revolution, expected ?? SideExpectations.None),
        WowPercent = reading.Disc.Sway is { IsCertain: true } sway ? Math.Round(sway.PeakPercent, 3) : null,
    };

    private static ReportMono? Mono(MonoReading? reading, bool? mono) =>
        reading is { } read && (mono == true || (mono is null && read.ResidualDb <= MonoResidualDb))
            ? new ReportMono(
                Math.Round(read.ResidualDb, 1), read.BetterWall switch { 0 => FindingChannel.Left, 1 => FindingChannel.Right, _ => null }, Round(read.SumGainDb, 1))
            : null;

    private static ReportRevolution? ToRevolution(RevolutionReading? turn, SideExpectations expected) => turn is null
        ? null
        : new ReportRevolution(
            Math.Round(turn.PeriodSeconds, 6), Math.Round(turn.Rpm, 3), Round(SpeedRule.ErrorPercent(turn, expected), 3), Math.Round(turn.Confidence, 2));

    private static double? Round(double? value, int digits) => value is { } v ? Math.Round(v, digits) : null;

    private static ImmutableArray<double?> Round(ImmutableArray<double?> values, int digits) => [.. values.Select(v => Round(v, digits))];
}
