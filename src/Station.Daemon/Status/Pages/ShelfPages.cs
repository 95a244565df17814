using Microsoft.AspNetCore.Http;
using Station.Daemon.Status.Api;

namespace Station.Daemon.Status.Pages;

/// <summary>All records, a page at a time, and one record with its takes.</summary>
internal sealed class ShelfPages(StationQuestions questions, PageFrame frame)
{
    private const int RecordsOnPage = 100;

    public async Task<IResult> ShelfAsync(string? after, CancellationToken cancellationToken)
    {
        RecordListView records = await questions.RecordsAsync(after, RecordsOnPage, cancellationToken);
        Html body = Html.Of($"""
            <h1>{PageText.Shelf}</h1>
            {Entries.Shelf(records.Records)}{Html.If(records.Next is not null, () => Html.Of($"<p class=\"more\"><a href=\"/shelf?after={Uri.EscapeDataString(records.Next!)}\">{PageText.MoreRecords}</a></p>"))}
            """);
        return frame.Page(PageText.Shelf, "/shelf", body, refresh: false);
    }

    /// <summary>Null when the record is not known.</summary>
    public async Task<IResult?> RecordAsync(string id, CancellationToken cancellationToken)
    {
        if (await questions.RecordAsync(id, cancellationToken) is not { } record)
        {
            return null;
        }

        Html body = Html.Of($"""
            <h1 class="label"><bdi>{record.Id}</bdi></h1>
            <p class="summary"><bdi>{string.Join(" – ", new[] { record.Title, record.Artist }.OfType<string>())}</bdi></p>
            <ul class="sides">{Html.Join(record.Sides.Select(Entries.Side))}</ul>
            {Html.Join(record.Takes.GroupBy(t => t.Side, StringComparer.Ordinal).Select(g => Entries.Section("side-" + g.Key, PageText.SideHeading(g.Key), Html.Join(g.Reverse().Select(Take)))))}
            """);
        return frame.Page(record.Id, "", body, refresh: false);
    }

    private Html Take(TakeView take) => Html.Of($"""
        <div class="entry row">
        {(take.DecidedAt is { } at ? frame.MarginTime(at) : Html.Of($"<span class=\"margin\">–</span>"))}
        <div class="what">
        <p>{PageText.TakeHeading(take.Number, take.State)}{Html.If(take.Reason is not null, () => Html.Of($" <span class=\"reason\">{take.Reason}</span>"))}</p>
        <p>{Html.Join(take.Captures.Select(c => Html.Of($"<a class=\"label\" href=\"{Entries.CaptureAddress(c)}\"><bdi>{c}</bdi></a> ")))}</p>
        </div>
        </div>

        """);
}
