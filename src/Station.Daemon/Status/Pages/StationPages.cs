using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using Station.Daemon.Jobs;

namespace Station.Daemon.Status.Pages;

/// <summary>The routes of the pages. They work without scripts.</summary>
internal static class StationPages
{
    private const string StyleCaching = "public, max-age=31536000, immutable";

    public static void MapStationPages(this IEndpointRouteBuilder routes)
    {
        routes.MapGet("/", (string? before, LogPage page, CancellationToken cancellationToken) => page.ShowAsync(before, cancellationToken));
        routes.MapGet("/shelf", (string? after, ShelfPages pages, CancellationToken cancellationToken) => pages.ShelfAsync(after, cancellationToken));
        routes.MapGet("/records/{id}", async (string id, ShelfPages pages, PageFrame frame, CancellationToken cancellationToken) =>
            await pages.RecordAsync(id, cancellationToken) ?? NotFound(frame));
        routes.MapGet("/captures/{label}", async (string label, CapturePage page, JobControl control, PageFrame frame, CancellationToken cancellationToken) =>
            await StatusEndpoints.FindAsync(control, label, cancellationToken) is { } job ? await page.ShowAsync(job, cancellationToken) : NotFound(frame));
        routes.MapGet("/station.css", (HttpContext http) =>
        {
            // The address changes with the content.
            http.Response.Headers.CacheControl = StyleCaching;
            return Results.Bytes(Style.Bytes, "text/css; charset=utf-8");
        });
    }

    private static IResult NotFound(PageFrame frame) => frame.Page(
        PageText.NotFoundTitle, "", Html.Of($"<h1>{PageText.NotFoundTitle}</h1>\n<p class=\"summary\">{PageText.NotFound}</p>"), refresh: false, StatusCodes.Status404NotFound);
}
