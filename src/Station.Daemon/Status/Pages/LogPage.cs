using System.Collections.Immutable;
using Microsoft.AspNetCore.Http;
using Station.Audio.Findings;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Status.Api;

namespace Station.Daemon.Status.Pages;

/// <summary>The first page: what needs a person, what is in hand, what happened lately, and the beginning of the shelf.</summary>
internal sealed class LogPage(IStationStore store, StationQuestions questions, PageFrame frame, OperatorCommand command)
{
    private const int MostNeeds = 50;
    private const int MostInHand = 30;
    private const int MostLately = 40;
    private const int MostAlerts = 50;
    private const int ShelfRecords = 24;

    /// <param name="before">Only entries older than this job, under "Lately"; null for the newest.</param>
    public async Task<IResult> ShowAsync(string? before, CancellationToken cancellationToken)
    {
        ImmutableDictionary<JobState, int> counts = await store.CountJobsAsync(cancellationToken);
        ImmutableArray<Job> needs = await NeedsAsync(cancellationToken);
        ImmutableArray<Job> inHand =
        [
            .. await store.JobsAsync(new JobQuery(Limit: MostInHand, State: JobState.Running), cancellationToken),
            .. (await store.JobsAsync(new JobQuery(Limit: MostInHand, State: JobState.Queued), cancellationToken)).Reverse(),
        ];
        ImmutableArray<Job> newest = await store.JobsAsync(new JobQuery(Before: before is null ? null : new JobId(before), Limit: MostLately), cancellationToken);
        ImmutableArray<Job> lately = [.. newest.Where(j => j.State is not (JobState.Queued or JobState.Running or JobState.Held or JobState.Failed))];
        RecordListView shelf = await questions.RecordsAsync(afterId: null, ShelfRecords, cancellationToken);
        Dictionary<string, StoredSheet?> sheets = await SheetsAsync(needs.Concat(inHand).Concat(lately), cancellationToken);
        ImmutableArray<PlaceView> places = await questions.PlacesAsync(cancellationToken);
        AuditView? audit = await questions.LastAuditAsync(cancellationToken);
        AlertListView alerts = await questions.AlertsAsync(beforeId: null, MostAlerts, cancellationToken);

        int needing = counts.GetValueOrDefault(JobState.Held) + counts.GetValueOrDefault(JobState.Failed);
        string summary = PageText.Summary(
            needing, counts.GetValueOrDefault(JobState.Running), counts.GetValueOrDefault(JobState.Queued), counts.GetValueOrDefault(JobState.Done));
        Html body = Html.Of($"""
            <h1>{PageText.StationLog}</h1>
            <p class="summary">{summary}</p>
            <div class="spread">
            <div class="log">
            {Entries.Section("needs", PageText.NeedsYou, Needs(needs, sheets))}{Undelivered(alerts)}{Entries.Section("hand", PageText.InHand, InHand(inHand, sheets))}{Entries.Section("lately", PageText.Lately, Lately(lately, sheets, newest))}</div>
            <div class="side">
            {Entries.Section("shelf", PageText.Shelf, Entries.Shelf(shelf.Records))}{Html.If(shelf.Next is not null, () => Html.Of($"<p class=\"more\"><a href=\"/shelf\">{PageText.MoreRecords}</a></p>"))}
            {Html.If(places.Any(p => p.Verified + p.Behind + p.Damaged > 0), () => Entries.Section("copies", PageText.Copies, Copies(places, audit)))}</div>
            </div>
            """);
        return frame.Page(PageText.StationLog, "/", body, refresh: before is null);
    }

    private async Task<ImmutableArray<Job>> NeedsAsync(CancellationToken cancellationToken)
    {
        ImmutableArray<Job> held = await store.JobsAsync(new JobQuery(Limit: MostNeeds, State: JobState.Held), cancellationToken);
        ImmutableArray<Job> failed = await store.JobsAsync(new JobQuery(Limit: MostNeeds, State: JobState.Failed), cancellationToken);

        // A side to play again comes first: its record may still be on the platter.
        return [.. held.Concat(failed).OrderByDescending(j => j.State == JobState.Held && j.Verdict == Verdict.Retake).ThenByDescending(j => j.Id.Value, StringComparer.Ordinal)];
    }

    private async Task<Dictionary<string, StoredSheet?>> SheetsAsync(IEnumerable<Job> jobs, CancellationToken cancellationToken)
    {
        var sheets = new Dictionary<string, StoredSheet?>(StringComparer.OrdinalIgnoreCase);
        foreach (string record in jobs.Select(j => j.Capture.RecordId).Distinct(StringComparer.OrdinalIgnoreCase))
        {
            sheets[record] = await store.SheetAsync(record, cancellationToken);
        }

        return sheets;
    }

    private Html Needs(ImmutableArray<Job> jobs, Dictionary<string, StoredSheet?> sheets) => jobs.IsEmpty
        ? Html.Of($"<p class=\"nothing\">{PageText.NothingNeedsYou}</p>")
        : Html.Join(jobs.Select(job => Html.Of($"""
            <article class="entry">
            {frame.MarginTime(job.Capture.ReceivedAt)}
            <div class="what">
            <h3>{Entries.Heading(job, sheets[job.Capture.RecordId], Entries.CaptureAddress(job.Capture.Label))}</h3>
            <p>{Entries.Stamp(job)}</p>
            {Why(job)}{Entries.Picture(job)}
            {Entries.Decisions(job, command)}</div>
            </article>

            """)));

    private static Html Why(Job job)
    {
        Finding[] findings = [.. job.AllFindings()];
        return job.State == JobState.Held && findings.Any(f => f.Severity != Severity.Note)
            ? Entries.FindingList(findings, Severity.Review)
            : Html.Of($"<p class=\"reason\">{job.Reason}</p>\n");
    }

    private Html InHand(ImmutableArray<Job> jobs, Dictionary<string, StoredSheet?> sheets) => jobs.IsEmpty
        ? Html.Of($"<p class=\"nothing\">{PageText.NothingInHand}</p>")
        : Html.Join(jobs.Select(job => Row(job, sheets, Html.Of($"<span class=\"doing\">{Doing(job)}</span>"))));

    private string Doing(Job job)
    {
        if (job.State == JobState.Running)
        {
            return PageText.NextStageWord(StageNames.InOrder.FirstOrDefault(s => !job.IsDone(s)) ?? "");
        }

        return job.NotBefore is { } due ? PageText.WaitsUntil(frame.Clock(due), job.Reason) : PageText.WaitsForTurn;
    }

    private Html Lately(ImmutableArray<Job> jobs, Dictionary<string, StoredSheet?> sheets, ImmutableArray<Job> page) => Html.Of($"""
        {(jobs.IsEmpty ? Html.Of($"<p class=\"nothing\">{PageText.NothingLately}</p>") : Html.Join(jobs.Select(job => Row(job, sheets, Outcome(job)))))}{Html.If(page.Length == MostLately, () => Html.Of($"<p class=\"more\"><a href=\"/?before={page[^1].Id.Value}#lately\">{PageText.Earlier}</a></p>\n"))}
        """);

    private static Html Outcome(Job job) => Html.Of($"{Entries.Stamp(job)}{Html.If(Remark(job) is not null, () => Html.Of($" <span class=\"reason\">{Remark(job)}</span>"))}");

    private static string? Remark(Job job) => job.State == JobState.Done ? job.AcceptedWhy : job.Reason;

    private Html Row(Job job, Dictionary<string, StoredSheet?> sheets, Html outcome) => Html.Of($"""
        <div class="entry row">
        {frame.MarginTime(job.FinishedAt ?? job.Capture.ReceivedAt)}
        <div class="what"><p>{Entries.Heading(job, sheets[job.Capture.RecordId], Entries.CaptureAddress(job.Capture.Label))}</p><p>{outcome}</p></div>
        </div>

        """);

    private Html Copies(ImmutableArray<PlaceView> places, AuditView? audit) => Html.Of($"""
        <ul class="copies">
        {Html.Join(places.Select(p => Html.Of($"<li><bdi>{p.Place}</bdi>: {PageText.PlaceCounts(p.Verified, p.Behind, p.Damaged)}{Html.If(p.OldestReadingAt is not null, () => Html.Of($"; {PageText.OldestReading} {frame.Time(p.OldestReadingAt!.Value, withDay: true)}"))}</li>\n")))}</ul>
        {Html.If(audit is not null, () => Html.Of($"<p class=\"audit\">{PageText.LastAudit} {frame.Time(audit!.AskedAt, withDay: true)}, {(audit.FinishedAt is null ? PageText.AuditRunning : PageText.AuditFinished)}; {PageText.AuditCounts(audit.Places.Sum(p => p.CopiesRead), audit.Places.Sum(p => p.Damaged), audit.Places.Sum(p => p.Mended))}</p>"))}
        """);

    private Html Undelivered(AlertListView alerts)
    {
        AlertView[] lost = [.. alerts.Alerts.Where(a => a.State == AlertState.Abandoned)];
        return Html.If(lost.Length > 0, () => Entries.Section("undelivered", PageText.Undelivered, Html.Join(lost.Select(a => Html.Of($"""
            <div class="entry row">
            {frame.MarginTime(a.CreatedAt)}
            <div class="what"><p>{a.Subject}</p><p class="reason">{string.Join(" ", a.Deliveries.Where(d => d.State == AlertState.Abandoned).Select(d => $"{d.Receiver}: {d.LastError}"))}</p></div>
            </div>

            """)))));
    }
}
