using System.Text.Json.Serialization;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Diagnostics.HealthChecks;
using Microsoft.AspNetCore.Http;
using Microsoft.AspNetCore.Routing;
using Microsoft.Extensions.DependencyInjection;
using Microsoft.Extensions.Diagnostics.HealthChecks;
using Station.Daemon.Status.Api;

namespace Station.Daemon.Status.Health;

/// <summary>
/// Two questions: is the process alive (nothing else is looked at), and can it take work now. No side effects, never cached. The split
/// and the status codes are common practice on container platforms; there is no standard.
/// </summary>
internal static class StationHealth
{
    public static void AddStationHealth(this IServiceCollection services) => services.AddHealthChecks()
        .AddCheck<StoreCheck>("store")
        .AddCheck<InboxCheck>("inbox")
        .AddCheck<ArchiveCheck>("archive")
        .AddCheck<ListeningCheck>("listening")
        .AddCheck<CodecCheck>("codecs");

    public static void MapStationHealth(this IEndpointRouteBuilder routes)
    {
        routes.MapHealthChecks("/health/live", new HealthCheckOptions { Predicate = _ => false, ResponseWriter = WriteAsync, AllowCachingResponses = false });
        routes.MapHealthChecks("/health/ready", new HealthCheckOptions { ResponseWriter = WriteAsync, AllowCachingResponses = false });
    }

    private static Task WriteAsync(HttpContext http, HealthReport report) => http.Response.WriteAsJsonAsync(
        new HealthView(
            report.Status == HealthStatus.Healthy,
            [.. report.Entries.Select(e => new CheckView(e.Key, e.Value.Status == HealthStatus.Healthy, e.Value.Description))]),
        ApiJson.Options, http.RequestAborted);

    private sealed record HealthView(bool Ok, CheckView[] Checks);

    private sealed record CheckView(string Name, bool Ok, [property: JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingNull)] string? Problem);
}
