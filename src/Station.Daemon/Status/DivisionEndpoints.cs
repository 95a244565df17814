using System.Collections.Immutable;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Http.Metadata;
using Microsoft.AspNetCore.Routing;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Net.Http.Headers;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;
using Station.Daemon.Status.Api;

namespace Station.Daemon.Status;

/// <summary>The cuts of a side as a resource: sent, they are fixed; deleted, the service divides by itself again.</summary>
internal static class DivisionEndpoints
{
    /// <param name="api">The group <c>/api/v1</c>.</param>
    public static void MapDivision(this IEndpointRouteBuilder api, DecisionGate gate)
    {
        RouteGroupBuilder division = api.MapGroup("/records/{id}/sides/{side}/division");
        division.AddEndpointFilter(gate);
        division.MapPost("", FixAsync).WithMetadata(new BodyLimit());
        division.MapDelete("", ReleaseAsync);
    }

    private static async Task<IResult> FixAsync(string id, string side, HttpRequest request, FixedDivisions divisions, CancellationToken cancellationToken)
    {
        if (!SideLetter.TryParse(side, out SideLetter letter))
        {
            return NoSuchSide();
        }

        if (!MediaTypeHeaderValue.TryParse(request.ContentType, out MediaTypeHeaderValue? type)
            || type.MediaType.Value?.ToLowerInvariant() is not { } mediaType || !DivisionBody.IsTaken(mediaType))
        {
            return Problems.Of(StatusCodes.Status415UnsupportedMediaType, PageText.CutsAreNeeded);
        }

        using var body = new MemoryStream();
        try
        {
            await request.Body.CopyToAsync(body, cancellationToken);
        }
        catch (BadHttpRequestException refused)
        {
            return Problems.Of(refused.StatusCode, PageText.CutsTooLong);
        }

        (CueResult cue, string text) = DivisionBody.Read(mediaType, body.GetBuffer().AsMemory(0, (int)body.Length), $"{id}-{letter}.cue");
        return await AnswerAsync(() => divisions.FixAsync(id, letter, cue, text, cancellationToken));
    }

    private static async Task<IResult> ReleaseAsync(string id, string side, FixedDivisions divisions, CancellationToken cancellationToken) =>
        SideLetter.TryParse(side, out SideLetter letter)
            ? await AnswerAsync(() => divisions.ReleaseAsync(id, letter, cancellationToken))
            : NoSuchSide();

    private static async Task<IResult> AnswerAsync(Func<Task<Job>> decide)
    {
        try
        {
            return Results.Json(JobViews.Of(await decide()), ApiJson.Options);
        }
        catch (DivisionRefusedException refused)
        {
            int status = refused.Refusal switch
            {
                DivisionRefusal.Input => StatusCodes.Status400BadRequest,
                DivisionRefusal.NoTake => StatusCodes.Status404NotFound,
                _ => StatusCodes.Status409Conflict,
            };
            return refused.Errors.IsEmpty
                ? Problems.Of(status, refused.Message)
                : Problems.Of(status, refused.Message, [.. refused.Errors.Select(e => new BodyError(e.Path.Length == 0 ? e.Line : null, e.Path.Length == 0 ? e.Column : null, e.Path.Length == 0 ? null : e.Path, e.Message))]);
        }
        catch (JobStateException error)
        {
            return Problems.Of(StatusCodes.Status409Conflict, error.Message);
        }
    }

    private static IResult NoSuchSide() => Problems.Of(StatusCodes.Status404NotFound, PageText.NoSuchSide);

    /// <summary>Cue sheets are longer than other bodies.</summary>
    private sealed class BodyLimit : IRequestSizeLimitMetadata
    {
        public long? MaxRequestBodySize => DivisionBody.MaxBytes;
    }
}
