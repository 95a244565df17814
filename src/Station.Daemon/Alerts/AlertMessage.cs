using System.Text.Json;
using System.Text.Json.Nodes;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;

namespace Station.Daemon.Alerts;

/// <summary>The body of a message: <c>{"type", "timestamp", "data"}</c>, the same bytes on every try. Pure.</summary>
internal static class AlertMessage
{
    /// <summary>Standard Webhooks 1.0.0 asks for bodies under about 20 kB.</summary>
    public const int MaxBytes = 20_000;

    /// <param name="alert">Its time stands in <c>timestamp</c>: when the news became true, not when it is sent.</param>
    /// <param name="station">The station's name.</param>
    public static byte[] Body(Alert alert, string station)
    {
        JsonObject data = JsonNode.Parse(alert.Body) as JsonObject ?? throw new JsonException($"The data of alert {alert.Id} is no JSON object.");
        data["subject"] = alert.Subject;
        data["station"] = station;
        byte[] body = Bytes(alert, data);
        if (body.Length <= MaxBytes)
        {
            return body;
        }

        // Only the list of findings can be long; the report has all of them.
        data.Remove("findings");
        data["shortened"] = true;
        return Bytes(alert, data);
    }

    private static byte[] Bytes(Alert alert, JsonObject data) => JsonSerializer.SerializeToUtf8Bytes(
        new Message(alert.Type, alert.CreatedAt, data), ReportJson.Compact);

    private sealed record Message(string Type, DateTimeOffset Timestamp, JsonObject Data);
}
