using System.Collections.Immutable;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using Microsoft.Extensions.DependencyInjection;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Status.Api;
using Station.Daemon.Status.Health;
using Station.Daemon.Status.Pages;

namespace Station.Daemon.Status;

/// <summary>The routes. Names in an address are looked up in the store, never joined to a path.</summary>
internal static class StatusEndpoints
{
    private const int DefaultLimit = 50;
    private const int MaxLimit = 500;
    private const int MaxWhyCharacters = 1000;

    public static void MapStatus(this IEndpointRouteBuilder routes)
    {
        routes.MapStationHealth();
        routes.MapStationPages();
        RouteGroupBuilder api = routes.MapGroup("/api/v1");
        api.MapGet("/station", async (StationQuestions questions, CancellationToken cancellationToken) => Json(await questions.StationAsync(cancellationToken)));
        api.MapGet("/jobs", JobsAsync);
        api.MapGet("/jobs/{id}", async (string id, JobControl control, CancellationToken cancellationToken) =>
            await FindAsync(control, id, cancellationToken) is { } job ? Json(JobViews.Of(job)) : NoSuchJob());
        api.MapGet("/jobs/{id}/report", ReportAsync);
        api.MapGet("/jobs/{id}/picture.svg", PictureAsync);
        api.MapGet("/records", RecordsAsync);
        api.MapGet("/records/{id}", async (string id, StationQuestions questions, CancellationToken cancellationToken) =>
            await questions.RecordAsync(id, cancellationToken) is { } record ? Json(record) : Problems.Of(StatusCodes.Status404NotFound, PageText.NoSuchRecord));
        api.MapGet("/alerts", AlertsAsync);

        DecisionGate gate = routes.ServiceProvider.GetRequiredService<DecisionGate>();
        api.MapDivision(gate);
        api.MapAudits(gate);
        RouteGroupBuilder decisions = api.MapGroup("/jobs/{id}");
        decisions.AddEndpointFilter(gate);
        decisions.MapPost("/accept", (string id, DecisionRequest request, JobControl control, CancellationToken cancellationToken) =>
            DecideAsync(request, whyIsNeeded: true, why => control.AcceptAsync(id, why!, cancellationToken)));
        decisions.MapPost("/discard", (string id, DecisionRequest? request, JobControl control, CancellationToken cancellationToken) =>
            DecideAsync(request, whyIsNeeded: false, why => control.DiscardAsync(id, why, cancellationToken)));
        decisions.MapPost("/retry", (string id, DecisionRequest? request, JobControl control, CancellationToken cancellationToken) =>
            DecideAsync(request, whyIsNeeded: false, _ => control.RetryAsync(id, cancellationToken)));
        decisions.MapPost("/identify", (string id, IdentifyRequest request, Reidentification identity, CancellationToken cancellationToken) =>
            IdentifyAsync(id, request, identity, cancellationToken));
    }

    private static async Task<IResult> JobsAsync(
        IStationStore store, int? limit, string? before, string? state, string? record, CancellationToken cancellationToken)
    {
        JobState? wanted = null;
        if (state is not null)
        {
            // Names only: the parser would also take numbers and comma lists.
            wanted = Enum.GetValues<JobState>().Cast<JobState?>().FirstOrDefault(s => string.Equals(s.ToString(), state, StringComparison.OrdinalIgnoreCase));
            if (wanted is null)
            {
                string known = string.Join(", ", Enum.GetNames<JobState>().Select(n => n.ToLowerInvariant()));
                return Problems.Of(StatusCodes.Status400BadRequest, $"{PageText.UnknownState} {known}.");
            }
        }

        int count = limit ?? DefaultLimit;
        if (!IsLimit(count))
        {
            return WrongLimit();
        }

        var query = new JobQuery(before is null ? null : new JobId(before), count, wanted, record);
        ImmutableArray<Job> jobs = await store.JobsAsync(query, cancellationToken);
        return Json(new JobListView([.. jobs.Select(JobViews.Of)], jobs.Length == count ? jobs[^1].Id.Value : null));
    }

    private static async Task<IResult> RecordsAsync(StationQuestions questions, int? limit, string? after, CancellationToken cancellationToken) =>
        IsLimit(limit ?? DefaultLimit) ? Json(await questions.RecordsAsync(after, limit ?? DefaultLimit, cancellationToken)) : WrongLimit();

    private static async Task<IResult> AlertsAsync(StationQuestions questions, int? limit, string? before, CancellationToken cancellationToken) =>
        IsLimit(limit ?? DefaultLimit) ? Json(await questions.AlertsAsync(before, limit ?? DefaultLimit, cancellationToken)) : WrongLimit();

    private static async Task<IResult> ReportAsync(string id, JobControl control, StationQuestions questions, CancellationToken cancellationToken)
    {
        if (await FindAsync(control, id, cancellationToken) is not { } job)
        {
            return NoSuchJob();
        }

        return questions.Report(job) is { } report
            ? Results.Bytes(report, "application/json")
            : Problems.Of(StatusCodes.Status404NotFound, PageText.NoReportYet);
    }

    private static async Task<IResult> PictureAsync(string id, string? list, HttpContext http, JobControl control, StationQuestions questions, CancellationToken cancellationToken)
    {
        if (await FindAsync(control, id, cancellationToken) is not { } job)
        {
            return NoSuchJob();
        }

        if (questions.Picture(job) is not { } picture)
        {
            return Problems.Of(StatusCodes.Status404NotFound, PageText.NoPictureYet);
        }

        http.Response.Headers.ContentSecurityPolicy = ProtectiveHeaders.PicturePolicy;
        return Results.Bytes(list == "no" ? SidePicture.WithoutList(picture) : picture, "image/svg+xml");
    }

    private static async Task<IResult> DecideAsync(DecisionRequest? request, bool whyIsNeeded, Func<string?, Task<Job>> decide)
    {
        string? why = request?.Why?.Trim();
        if (string.IsNullOrEmpty(why) && whyIsNeeded)
        {
            return Problems.Of(StatusCodes.Status400BadRequest, PageText.WhyIsNeeded);
        }

        if (why?.Length > MaxWhyCharacters)
        {
            return Problems.Of(StatusCodes.Status400BadRequest, PageText.WhyIsTooLong);
        }

        try
        {
            return Json(JobViews.Of(await decide(string.IsNullOrEmpty(why) ? null : why)));
        }
        catch (JobNotFoundException)
        {
            return NoSuchJob();
        }
        catch (JobStateException error)
        {
            return Problems.Of(StatusCodes.Status409Conflict, error.Message);
        }
    }

    private static async Task<IResult> IdentifyAsync(string id, IdentifyRequest request, Reidentification identity, CancellationToken cancellationToken)
    {
        if (string.IsNullOrWhiteSpace(request.As))
        {
            return Problems.Of(StatusCodes.Status400BadRequest, PageText.AsIsNeeded);
        }

        try
        {
            return Json(JobViews.Of(await identity.IdentifyAsync(id, request.As.Trim(), cancellationToken)));
        }
        catch (JobNotFoundException)
        {
            return NoSuchJob();
        }
        catch (IdentityException error)
        {
            return Problems.Of(error.IsName ? StatusCodes.Status400BadRequest : StatusCodes.Status409Conflict, error.Message);
        }
        catch (JobStateException error)
        {
            return Problems.Of(StatusCodes.Status409Conflict, error.Message);
        }
    }

    internal static async Task<Job?> FindAsync(JobControl control, string idOrLabel, CancellationToken cancellationToken)
    {
        try
        {
            return await control.FindAsync(idOrLabel, cancellationToken);
        }
        catch (JobNotFoundException)
        {
            return null;
        }
    }

    private static bool IsLimit(int limit) => limit is >= 1 and <= MaxLimit;

    private static IResult WrongLimit() => Problems.Of(StatusCodes.Status400BadRequest, PageText.WrongLimit);

    private static IResult NoSuchJob() => Problems.Of(StatusCodes.Status404NotFound, PageText.NoSuchJob);

    private static IResult Json<T>(T document) => Results.Json(document, ApiJson.Options);
}
