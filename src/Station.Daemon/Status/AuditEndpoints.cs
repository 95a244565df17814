using System.Collections.Immutable;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Status.Api;

namespace Station.Daemon.Status;

/// <summary>Audits as a resource: sent, one is begun; they are listed for as long as the station stands.</summary>
internal static class AuditEndpoints
{
    private const int DefaultLimit = 50;
    private const int MaxLimit = 500;

    /// <param name="api">The group <c>/api/v1</c>.</param>
    public static void MapAudits(this IEndpointRouteBuilder api, DecisionGate gate)
    {
        api.MapGet("/audits", ListAsync);
        api.MapGet("/audits/{id}", async (string id, IStationStore store, CancellationToken cancellationToken) =>
            await store.AuditAsync(id, cancellationToken) is { } audit ? Json(AuditView.Of(audit)) : Problems.Of(StatusCodes.Status404NotFound, PageText.NoSuchAudit));
        api.MapPost("/audits", BeginAsync).AddEndpointFilter(gate);
    }

    private static async Task<IResult> ListAsync(IStationStore store, int? limit, string? before, CancellationToken cancellationToken)
    {
        int count = limit ?? DefaultLimit;
        if (count is < 1 or > MaxLimit)
        {
            return Problems.Of(StatusCodes.Status400BadRequest, PageText.WrongLimit);
        }

        ImmutableArray<AskedAudit> audits = await store.AuditsAsync(before, count, cancellationToken);
        return Json(new AuditListView([.. audits.Select(AuditView.Of)], audits.Length == count ? audits[^1].Id : null));
    }

    private static async Task<IResult> BeginAsync(AuditRequest? request, IStationStore store, CopyPlaces places, TimeProvider clock, HttpContext http, CancellationToken cancellationToken)
    {
        ImmutableArray<string> known = [CopyPlaces.Archive, .. places.Replicas];
        if (request?.Place is { } place && !known.Contains(place))
        {
            return Problems.Of(StatusCodes.Status400BadRequest, $"{PageText.NoSuchPlace} {string.Join(", ", known)}.");
        }

        try
        {
            AskedAudit audit = await store.AskAuditAsync(request?.Place is { } one ? [one] : known, clock.GetUtcNow(), cancellationToken);
            http.Response.Headers.Location = $"/api/v1/audits/{audit.Id}";
            return Results.Json(AuditView.Of(audit), ApiJson.Options, statusCode: StatusCodes.Status202Accepted);
        }
        catch (AuditRefusedException refused)
        {
            return Problems.Of(StatusCodes.Status409Conflict, refused.Message);
        }
    }

    private static IResult Json<T>(T document) => Results.Json(document, ApiJson.Options);
}
