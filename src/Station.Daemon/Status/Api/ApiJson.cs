using System.Text.Json;
using Station.Daemon.Jobs.Reporting;

namespace Station.Daemon.Status.Api;

/// <summary>JSON as the HTTP interface speaks it: the rules of the report, with every member present (null rather than left out).</summary>
internal static class ApiJson
{
    public static JsonSerializerOptions Options => ReportJson.Compact;

    /// <summary>Lays the same rules over the host's own options, which read request bodies.</summary>
    public static void Apply(JsonSerializerOptions options)
    {
        options.PropertyNamingPolicy = Options.PropertyNamingPolicy;
        options.PropertyNameCaseInsensitive = false;
        options.UnmappedMemberHandling = Options.UnmappedMemberHandling;
        options.RespectNullableAnnotations = Options.RespectNullableAnnotations;
        options.RespectRequiredConstructorParameters = Options.RespectRequiredConstructorParameters;
        options.MaxDepth = 8;
    }
}
