using System.Globalization;
using System.Security.Cryptography;
using Microsoft.AspNetCore.Http;
using Station.Daemon.Configuration;
using Station.Daemon.Status.Api;

namespace Station.Daemon.Status.Pages;

/// <summary>What is around every page: head, name of the station, ways to the other pages, free space.</summary>
internal sealed class PageFrame(StationOptions station, StationQuestions questions, TimeProvider clock)
{
    public static string StylePath { get; } = "/station.css?v=" + Convert.ToHexStringLower(SHA256.HashData(Style.Bytes))[..12];

    /// <param name="current">The page's own entry in the navigation: <c>/</c> or <c>/shelf</c>; empty for pages below them.</param>
    /// <param name="refresh">True for pages that show what is going on now.</param>
    public IResult Page(string title, string current, Html body, bool refresh, int status = StatusCodes.Status200OK)
    {
        Html page = Html.Of($"""
            <!doctype html>
            <html lang="en">
            <head>
            <meta charset="utf-8">
            <meta name="viewport" content="width=device-width, initial-scale=1">
            <meta name="color-scheme" content="light dark">
            {Html.If(refresh, () => Html.Of($"<meta http-equiv=\"refresh\" content=\"15\">"))}
            <title>{PageText.Title(station.Name, title)}</title>
            <link rel="stylesheet" href="{StylePath}">
            </head>
            <body>
            <a class="skip" href="#entries">{PageText.SkipToContent}</a>
            <header>
            <p class="station">{station.Name}</p>
            <nav>{Link("/", PageText.Log, current)} {Link("/shelf", PageText.Shelf, current)}</nav>
            <p class="now">{Time(clock.GetUtcNow(), withDay: true)}</p>
            </header>
            <main id="entries">
            {body}
            </main>
            <footer>
            <p>{PageText.Free}: {string.Join(", ", questions.Disks().Select(d => $"{d.Folder} {(d.FreeBytes is { } free ? Shown.Bytes(free) : "–")}"))}.</p>
            {Html.If(refresh, () => Html.Of($"<p>{PageText.Updates}</p>"))}
            </footer>
            </body>
            </html>

            """);
        return Results.Content(page.ToString(), "text/html; charset=utf-8", statusCode: status);
    }

    /// <summary>A moment in the station's own time zone; the exact one stands in the markup.</summary>
    public Html Time(DateTimeOffset at, bool withDay = false)
    {
        string exact = at.UtcDateTime.ToString("yyyy-MM-dd'T'HH:mm:ss'Z'", CultureInfo.InvariantCulture);
        return Html.Of($"<time datetime=\"{exact}\">{(withDay ? Day(at) + ", " : "")}{Clock(at)}</time>");
    }

    /// <summary>Day over time of day, for the margin.</summary>
    public Html MarginTime(DateTimeOffset at)
    {
        string exact = at.UtcDateTime.ToString("yyyy-MM-dd'T'HH:mm:ss'Z'", CultureInfo.InvariantCulture);
        return Html.Of($"<time class=\"margin\" datetime=\"{exact}\">{Clock(at)}<br><span class=\"day\">{ShortDay(at)}</span></time>");
    }

    public string Clock(DateTimeOffset at) => Local(at).ToString("HH:mm", CultureInfo.InvariantCulture);

    public string Day(DateTimeOffset at) => Local(at).ToString("dddd d MMMM yyyy", CultureInfo.InvariantCulture);

    private string ShortDay(DateTimeOffset at) => Local(at).ToString(Local(at).Year == Local(clock.GetUtcNow()).Year ? "d MMM" : "d MMM yyyy", CultureInfo.InvariantCulture);

    private DateTimeOffset Local(DateTimeOffset at) => TimeZoneInfo.ConvertTime(at, clock.LocalTimeZone);

    private static Html Link(string address, string text, string current) => address == current
        ? Html.Of($"<a href=\"{address}\" aria-current=\"page\">{text}</a>")
        : Html.Of($"<a href=\"{address}\">{text}</a>");
}
