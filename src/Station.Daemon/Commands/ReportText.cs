using System.Globalization;
using System.Text;
using System.Text.Json;
using Station.Audio.Findings;
using Station.Daemon.Jobs.Reporting;

namespace Station.Daemon.Commands;

/// <summary>A report for a terminal: verdict and advice first, then figures, then the tracks.</summary>
internal static class ReportText
{
    public static string Of(StationReport report)
    {
        var text = new StringBuilder();
        ReportCapture capture = report.Capture;
        Line($"{capture.File}: {(report.Job.Verdict is { } v ? Word(v) : report.Job.State)}");
        if (report.Job.Reason is { } reason)
        {
            Line($"  {reason}");
        }

        foreach (Finding finding in report.Findings.OrderByDescending(f => f.Severity))
        {
            Line($"  {finding.Severity.ToString().ToLowerInvariant(),-7} {finding.Code}{(finding.Channel is { } c ? $" ({c.ToString().ToLowerInvariant()})" : "")}: {finding.Message}");
            Line($"          {finding.Advice}");
            if (finding.Spans.Length > 0)
            {
                Line($"          at {string.Join(", ", finding.Spans.Take(5).Select(s => $"{Time(s.StartSeconds)}"))}{(finding.Spans.Length > 5 ? $" and {finding.Spans.Length - 5} more" : "")}");
            }
        }

        if (report.Measures is { } m)
        {
            Line($"  {capture.Container}, {capture.SampleRateHz} Hz, {capture.BitsPerSample} bit, {capture.Channels} ch, {Time(capture.DurationSeconds ?? 0)}");
            Line($"  sample peak {Levels(m.SamplePeakDbfs)} dBFS, RMS {Levels(m.RmsDbfs)} dBFS (sine = 0), loudness {Level(m.LoudnessLufs)} LUFS");
            Line($"  groove noise {Level(m.NoiseFloorDba)} dBFS A-weighted, rumble {Level(m.RumbleDbfs)} dBFS, {Hum(m.Hum)}, {Turn(m.Revolution)}");
        }

        if (report.Level is { RecommendedChangeDb: { } change } level)
        {
            Line($"  recording level: {(change > 0 ? "+" : "")}{change.ToString("0.0", CultureInfo.InvariantCulture)} dB would bring the next take's peaks to {level.TargetPeakDbfs.ToString("0.#", CultureInfo.InvariantCulture)} dBFS");
        }

        if (report.Division is { } division)
        {
            Line($"  tracks ({JsonNamingPolicy.KebabCaseLower.ConvertName(division.Method.ToString())}, confidence {division.Confidence.ToString("0.00", CultureInfo.InvariantCulture)})");
            foreach (ReportTrack track in division.Tracks)
            {
                Line($"    {track.Side}{track.Number}  {Time(track.StartSeconds)} to {Time(track.EndSeconds)}  {track.Title}");
            }

            foreach (ReportAlternative other in division.Alternatives ?? [])
            {
                Line($"    {(other.InsteadOf is { } number ? $"{other.Side}{number} may begin" : $"{other.Side}: one more track may begin")} at {Time(other.StartSeconds)} ({other.Confidence.ToString("0.00", CultureInfo.InvariantCulture)}): {other.Why}");
            }
        }

        if (report.Archive is { } archive)
        {
            Line($"  archived and verified: {archive.Bag}");
        }

        foreach (ReportOutput output in (report.Outputs ?? []).Where(o => o.Role == "listening"))
        {
            Line($"  {output.Path}");
        }

        return text.ToString();

        void Line(string line) => text.Append(line).Append('\n');
    }

    public static string Word(Verdict verdict) => verdict switch
    {
        Verdict.Accept => "accept",
        Verdict.Review => "review (please decide)",
        _ => "retake (play the side again)",
    };

    public static string Time(double seconds)
    {
        // Rounded to tenths first, so that 59.96 s is 1:00.0 and not 0:60.0.
        long tenths = (long)Math.Round(seconds * 10, MidpointRounding.AwayFromZero);
        return string.Create(CultureInfo.InvariantCulture, $"{tenths / 600}:{tenths / 10 % 60:00}.{tenths % 10}");
    }

    private static string Levels(IEnumerable<double?> values) => string.Join(" / ", values.Select(Level));

    private static string Hum(ReportHum? hum) => hum is null
        ? "no hum"
        : string.Create(CultureInfo.InvariantCulture, $"hum of {hum.FundamentalHz:0.00} Hz at {hum.LevelDbfs.Max():0.0} dBFS");

    private static string Turn(ReportRevolution? turn) => turn is null
        ? "speed not known"
        : string.Create(CultureInfo.InvariantCulture, $"{turn.Rpm:0.00} rev/min");

    private static string Level(double? value) => value is { } v ? v.ToString("0.0", CultureInfo.InvariantCulture) : "none";
}
