using Station.Audio.Findings;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Status.Api;

namespace Station.Daemon.Status.Pages;

/// <summary>The pieces that stand on more than one page. Pure.</summary>
internal static class Entries
{
    /// <summary>The word for where a job stands, framed: double for a take to play again, single for a decision, dashed for one set aside, none else.</summary>
    public static Html Stamp(Job job) => Html.Of($"<span class=\"stamp {StampClass(job)}\">{PageText.Stamp(job.State, job.Verdict)}</span>");

    public static string CaptureAddress(string label) => "/captures/" + Uri.EscapeDataString(label);

    public static string RecordAddress(string record) => "/records/" + Uri.EscapeDataString(record);

    /// <summary>Record, sides and takes in words, with what the sheet says.</summary>
    /// <param name="address">Where the words lead.</param>
    public static Html Heading(Job job, StoredSheet? sheet, string address)
    {
        int[] numbers = [.. job.Takes.Select(t => t.Number).Distinct()];
        string take = numbers.Length == 1 ? ", " + PageText.TakeNumber(numbers[0]) : "";
        return Html.Of($"<a href=\"{address}\"><bdi>{PageText.SideOf(job.Capture.RecordId, job.Capture.Sides)}</bdi>{take}</a>{Work(sheet)}");
    }

    private static Html Work(StoredSheet? sheet)
    {
        string[] parts = [.. new[] { sheet?.Title, sheet?.Artist }.OfType<string>().Where(p => p.Length > 0)];
        return Html.If(parts.Length > 0, () => Html.Of($" <span class=\"work\"><bdi>{string.Join(" – ", parts)}</bdi></span>"));
    }

    public static Html Picture(Job job) => JobViews.HasPicture(job)
        ? Html.Of($"<img class=\"picture\" src=\"{JobViews.Address(job)}/picture.svg?list=no\" alt=\"{PageText.PictureAlt(job.Capture.Label)}\">")
        : Html.Empty;

    /// <summary>Findings, numbered as in the picture.</summary>
    /// <param name="from">Only these and worse; the numbers stay those of the whole list.</param>
    public static Html FindingList(IReadOnlyList<Finding> findings, Severity from)
    {
        IEnumerable<(Finding Finding, int Number)> shown = findings.Select((f, i) => (f, i + 1)).Where(f => f.f.Severity >= from);
        return Html.Of($"""
            <ol class="findings">
            {Html.Join(shown.Select(f => Finding(f.Finding, f.Number)))}</ol>

            """);
    }

    private static Html Finding(Finding finding, int number) => Html.Of($"""
        <li value="{number}" class="{SeverityClass(finding.Severity)}">
        <p><strong>{PageText.SeverityWord(finding.Severity)}.</strong> {finding.Message}</p>
        <p class="where">{Where(finding)}</p>
        <p class="advice">{finding.Advice}</p>
        </li>

        """);

    private static string Where(Finding finding)
    {
        string channel = PageText.ChannelWord(finding.Channel);
        string places = Shown.Places(finding);
        string where = channel.Length == 0 ? places : $"{channel}, {places}";
        string measured = finding.Measured is not null
            ? $"; {Measured(finding.Measured, finding.Unit)}{(finding.Limit is null ? "" : $" (limit {Measured(finding.Limit, finding.Unit)})")}"
            : "";
        return $"{where}{measured} · {finding.Code}";
    }

    private static string Measured(double? value, string? unit) => $"{Shown.Number(value, "0.##")}{(unit is null ? "" : "\u00A0" + unit)}";

    /// <summary>What can be decided about the job, as commands to copy.</summary>
    public static Html Decisions(Job job, OperatorCommand command)
    {
        string label = job.Capture.Label;
        IEnumerable<(string Words, string Command)> choices = job.State switch
        {
            JobState.Held => [(PageText.ToKeepIt, command.Accept(label)), (PageText.ToDropIt, command.Discard(label))],
            JobState.Failed => [(PageText.ToTryAgain, command.Retry(label)), (PageText.ToDropIt, command.Discard(label))],
            JobState.Superseded => [(PageText.ToDropIt, command.Discard(label))],
            _ => [],
        };
        bool again = job is { State: JobState.Held, Verdict: Verdict.Retake };
        return Html.Of($"""
            {Html.If(again, () => Html.Of($"<p class=\"again\">{PageText.DropAgain(job.Capture.RecordId, job.Capture.Sides)}</p>\n"))}<dl class="choices">
            {Html.Join(choices.Select(c => Html.Of($"<dt>{c.Words}</dt><dd><code>{Words(c.Command)}</code></dd>\n")))}</dl>
            {Html.If(job.State == JobState.Held && !again, () => Html.Of($"<p class=\"again\">{PageText.OrDropAgain(job.Capture.RecordId, job.Capture.Sides)}</p>\n"))}
            """);
    }

    /// <summary>Lines break between the words of a command, not at the hyphens of its options.</summary>
    private static Html Words(string command) => Html.Join(command.Split(' ').Select((word, i) => Html.Of($"{(i == 0 ? "" : " ")}<span>{word}</span>")));

    public static Html Section(string id, string title, Html body) => Html.Of($"""
        <section aria-labelledby="{id}">
        <h2 id="{id}">{title}</h2>
        {body}
        </section>

        """);

    public static Html Shelf(IReadOnlyCollection<RecordView> records) => records.Count == 0
        ? Html.Of($"<p class=\"nothing\">{PageText.EmptyShelf}</p>")
        : Html.Of($"""
            <ul class="shelf">
            {Html.Join(records.Select(ShelfRow))}</ul>

            """);

    private static Html ShelfRow(RecordView record) => Html.Of($"""
        <li>
        <a class="label" href="{RecordAddress(record.Id)}"><bdi>{record.Id}</bdi></a> <span class="work"><bdi>{string.Join(" – ", new[] { record.Title, record.Artist }.OfType<string>())}</bdi></span>
        <ul class="sides">{Html.Join(record.Sides.Select(Side))}</ul>
        </li>

        """);

    /// <summary>A side's letter with how far it is in words.</summary>
    public static Html Side(SideView side) =>
        Html.Of($"<li class=\"{StandingClass(side.Standing)}\"><b>{side.Side}</b> {PageText.StandingWord(side.Standing)}</li>");

    private static string StandingClass(SideStanding standing) => standing switch
    {
        SideStanding.Kept or SideStanding.KeptNewerOpen => "kept",
        SideStanding.Open => "open",
        SideStanding.ToPlay => "toplay",
        _ => "blank",
    };

    private static string SeverityClass(Severity severity) => severity switch
    {
        Severity.Retake => "retake",
        Severity.Review => "review",
        _ => "note",
    };

    private static string StampClass(Job job) => (job.State, job.Verdict) switch
    {
        (JobState.Held, Verdict.Retake) => "retake",
        (JobState.Held, _) => "review",
        (JobState.Failed, _) => "aside",
        _ => "plain",
    };
}
