using System.Collections.Immutable;
using System.Globalization;
using Microsoft.AspNetCore.Http;
using Station.Audio.Findings;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Status.Api;

namespace Station.Daemon.Status.Pages;

/// <summary>Everything about one capture: the report, readable.</summary>
internal sealed class CapturePage(IStationStore store, PageFrame frame, OperatorCommand command, StationOptions station)
{
    public async Task<IResult> ShowAsync(Job job, CancellationToken cancellationToken)
    {
        StoredSheet? sheet = await store.SheetAsync(job.Capture.RecordId, cancellationToken);
        StationReport report = ReportBuilder.Build(job, job.State, job.Reason, sheet, station.Name, job.FinishedAt, SoftwareVersion.Text);
        Html body = Html.Of($"""
            <h1 class="label"><bdi>{job.Capture.Label}</bdi></h1>
            <p class="summary">{Entries.Stamp(job)} {Entries.Heading(job, sheet, Entries.RecordAddress(job.Capture.RecordId))}</p>
            {Html.If(job.Reason is not null && !(job.State == JobState.Held && report.Findings.Length > 0), () => Html.Of($"<p class=\"reason\">{job.Reason}</p>"))}
            {Html.If(job.AcceptedWhy is not null, () => Html.Of($"<p class=\"reason\">{PageText.AcceptedBecause} {job.AcceptedWhy}</p>"))}
            <p class="facts">{Facts(job, report)}</p>
            <div class="spread">
            <div class="log">
            {Entries.Picture(job)}
            {Findings(report)}{Entries.Decisions(job, command)}{Tracks(report)}</div>
            <div class="side">
            {Measures(report)}{Files(job, report)}{Steps(job)}</div>
            </div>
            """);
        return frame.Page(job.Capture.Label, "", body, refresh: job.State is JobState.Running or JobState.Queued);
    }

    private Html Facts(Job job, StationReport report)
    {
        ReportCapture c = report.Capture;
        string format = c.SampleRateHz is { } rate
            ? string.Create(CultureInfo.InvariantCulture, $"; {c.Container}, {rate / 1000.0:0.###} kHz, {c.BitsPerSample} {PageText.Bit}, {PageText.ChannelsWord(c.Channels ?? 0)}, {Shown.Length(c.DurationSeconds ?? 0)}")
            : "";
        return Html.Of($"{PageText.Received} {frame.Time(job.Capture.ReceivedAt, withDay: true)}: <bdi>{c.File}</bdi>, {Shown.Bytes(c.Bytes)}{format}.");
    }

    private static Html Findings(StationReport report) => Entries.Section("findings", PageText.Findings, report switch
    {
        { Measures: null } => Html.Of($"<p class=\"nothing\">{PageText.NotMeasured}</p>"),
        { Findings.IsEmpty: true } => Html.Of($"<p class=\"nothing\">{PageText.NoFindings}</p>"),
        _ => Entries.FindingList(report.Findings, Severity.Note),
    });

    private static Html Tracks(StationReport report) => Html.If(report.Division is not null, () => Entries.Section("tracks", PageText.Tracks, Html.Of($"""
        <p class="how">{PageText.Divided(report.Division!.Method, Percent(report.Division.Confidence))}</p>
        <table>
        <thead><tr><th scope="col">{PageText.ColumnNumber}</th><th scope="col">{PageText.ColumnTitle}</th><th scope="col" class="n">{PageText.ColumnFrom}</th><th scope="col" class="n">{PageText.ColumnTo}</th><th scope="col" class="n">{PageText.ColumnLength}</th><th scope="col" class="n">{PageText.ColumnSure}</th></tr></thead>
        <tbody>
        {Html.Join(report.Division.Tracks.Select(t => Html.Of($"<tr><td>{t.Side}{t.Number}</td><td><bdi>{t.Title ?? "–"}</bdi></td><td class=\"n\">{Shown.Place(t.StartSeconds)}</td><td class=\"n\">{Shown.Place(t.EndSeconds)}</td><td class=\"n\">{Shown.Length(t.EndSeconds - t.StartSeconds)}</td><td class=\"n\">{Percent(t.Confidence)}</td></tr>\n")))}</tbody>
        </table>
        """)));

    private static Html Measures(StationReport report) => Html.If(report.Measures is not null, () =>
    {
        ReportMeasures m = report.Measures!;
        (string Name, ImmutableArray<double?>? Values, string Format, string Unit)[] perChannel =
        [
            (PageText.HighestSample, m.SamplePeakDbfs, "0.0", "dBFS"), (PageText.TruePeak, m.TruePeakDbtp, "0.0", "dBTP"), (PageText.Rms, m.RmsDbfs, "0.0", "dBFS"),
            (PageText.CrestFactor, m.CrestFactorDb, "0.0", "dB"), (PageText.NoiseFloor, m.NoiseFloorDbfs, "0.0", "dBFS"),
            (PageText.Offset, m.DcOffset is { IsDefault: false } dc ? [.. dc.Select(v => v * 100)] : null, "0.000", PageText.PercentOfFullScale),
        ];
        (string Name, double? Value, string Format, string Unit)[] whole =
        [
            (PageText.ProgrammePeak, m.ProgrammePeakDbfs, "0.0", "dBFS"), (PageText.Loudness, m.LoudnessLufs, "0.0", "LUFS"),
            (PageText.LoudnessRange, m.LoudnessRangeLu, "0.0", "LU"), (PageText.Balance, m.BalanceDb, "0.0", "dB"), (PageText.Correlation, m.Correlation, "0.00", ""),
            (PageText.Ticks, m.TicksPerMinute, "0.0", ""), (PageText.Turns, m.Revolution?.Rpm, "0.00", ""), (PageText.Rumble, m.RumbleDbfs, "0.0", "dBFS"),
        ];
        return Entries.Section("measures", PageText.Measures, Html.Of($"""
            <table>
            <thead><tr><td></td><th scope="col" class="n">{PageText.Left}</th><th scope="col" class="n">{PageText.Right}</th><th scope="col"></th></tr></thead>
            <tbody>
            {Html.Join(perChannel.Where(r => r.Values is not null).Select(r => Html.Of($"<tr><th scope=\"row\">{r.Name}</th>{Cells(r.Values!.Value, r.Format)}<td>{r.Unit}</td></tr>\n")))}{Html.Join(whole.Where(r => r.Value is not null).Select(r => Html.Of($"<tr><th scope=\"row\">{r.Name}</th><td class=\"n\" colspan=\"2\">{Shown.Number(r.Value, r.Format)}</td><td>{r.Unit}</td></tr>\n")))}</tbody>
            </table>
            {Html.If(report.Level?.RecommendedChangeDb is not null, () => Html.Of($"<p class=\"how\">{PageText.NextLevel(Shown.Number(report.Level!.RecommendedChangeDb, "+0.0;-0.0;0.0"), Shown.Db(report.Level.TargetPeakDbfs, "dBFS"))}</p>"))}
            """));
    });

    private static Html Cells(ImmutableArray<double?> values, string format) => values.Length == 1
        ? Html.Of($"<td class=\"n\" colspan=\"2\">{Shown.Number(values[0], format)}</td>")
        : Html.Join(values.Select(v => Html.Of($"<td class=\"n\">{Shown.Number(v, format)}</td>")));

    private Html Files(Job job, StationReport report) => Entries.Section("files", PageText.Files, Html.Of($"""
        <p>{(report.Archive is { } archive ? Html.Of($"{PageText.Archive}: <code>{archive.Bag}</code>, {PageText.ReadBack} {frame.Time(archive.VerifiedAt, withDay: true)}.") : Html.Of($"{PageText.NotArchived}"))}</p>
        {Html.If(job.Copies.Length > 0, () => Html.Of($"<ul class=\"copies\">\n{Html.Join(job.Copies.Select(c => Html.Of($"<li><bdi>{c.Place}</bdi>: {PageText.CopyWord(c.State)}{Html.If(c.VerifiedAt is not null, () => Html.Of($", {frame.Time(c.VerifiedAt!.Value, withDay: true)}"))}</li>\n")))}</ul>"))}
        {Html.If(report.Outputs is { IsEmpty: false }, () => Html.Of($"<ul class=\"files\">\n{Html.Join(report.Outputs!.Value.Select(o => Html.Of($"<li><bdi>{o.Path}</bdi> <span class=\"facts\">{o.Role}, {o.Format}, {Shown.Bytes(o.Bytes)}</span></li>\n")))}</ul>"))}
        {Html.If(report.Capture.Sha256 is not null, () => Html.Of($"<p class=\"digest\">{PageText.Digest} <code>{report.Capture.Sha256}</code></p>"))}
        {Html.If(JobViews.HasReport(job), () => Html.Of($"<p><a href=\"{JobViews.Address(job)}/report\" download=\"{job.Capture.Label}.json\">{PageText.ReportLink}</a></p>"))}
        """));

    private static Html Steps(Job job) => Entries.Section("steps", PageText.Steps, Html.Of($"""
        <ol class="steps">
        {Html.Join(StageNames.InOrder.Where(job.Stages.ContainsKey).Select(n => job.Stages[n]).Select(s => Html.Of($"<li>{PageText.StageWord(s.Name)}: {PageText.OutcomeWord(s.Outcome)}, {(s.EndedAt - s.StartedAt).TotalSeconds.ToString("0.0", CultureInfo.InvariantCulture)} s{(s.Reason is null ? "" : $" ({s.Reason})")}</li>\n")))}</ol>
        """));

    private static string Percent(double fraction) => (fraction * 100).ToString("0", CultureInfo.InvariantCulture) + "\u00A0%";
}
