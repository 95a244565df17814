using System.Security.Cryptography;
using System.Text;
using System.Text.Json.Nodes;
using System.Threading.Channels;
using Microsoft.AspNetCore.Builder;
using Microsoft.AspNetCore.Hosting;
using Microsoft.AspNetCore.Http;
using Microsoft.Extensions.Logging;

namespace Station.EndToEnd.Tests.Harness;

/// <summary>A receiver of alerts, as somebody else would write one from the Standard Webhooks specification.</summary>
internal sealed class AlertListener : IAsyncDisposable
{
    private static readonly byte[] Key = [.. Enumerable.Range(1, 32).Select(n => (byte)n)];

    private readonly WebApplication _app;
    private readonly Channel<ReceivedAlert> _received = Channel.CreateUnbounded<ReceivedAlert>();

    private AlertListener(WebApplication app) => _app = app;

    public string Url => _app.Urls.First() + "/news";

    public static string Secret => "whsec_" + Convert.ToBase64String(Key);

    public static async Task<AlertListener> StartAsync()
    {
        WebApplicationBuilder builder = WebApplication.CreateSlimBuilder();
        builder.Logging.ClearProviders();
        builder.WebHost.UseUrls("http://127.0.0.1:0");
        WebApplication app = builder.Build();
        var listener = new AlertListener(app);
        app.MapPost("/news", async (HttpContext http) =>
        {
            using var body = new MemoryStream();
            await http.Request.Body.CopyToAsync(body);
            await listener._received.Writer.WriteAsync(new ReceivedAlert(
                http.Request.Headers["webhook-id"].ToString(), http.Request.Headers["webhook-timestamp"].ToString(),
                http.Request.Headers["webhook-signature"].ToString(), body.ToArray()));
            return Results.NoContent();
        });
        await app.StartAsync();
        return listener;
    }

    /// <summary>Adds this receiver to a configuration; the secret comes from a file only its owner may read.</summary>
    public void Configure(JsonObject configuration, string secretFile)
    {
        File.WriteAllText(secretFile, Secret);
        File.SetUnixFileMode(secretFile, UnixFileMode.UserRead | UnixFileMode.UserWrite);
        configuration["Alerts"] = new JsonObject
        {
            ["Webhooks"] = new JsonArray(new JsonObject { ["Name"] = "house", [nameof(Url)] = Url, ["SecretFile"] = secretFile }),
        };
    }

    /// <summary>The next alert that fits; others are passed over.</summary>
    public async Task<ReceivedAlert> NextAsync(Predicate<ReceivedAlert> wanted)
    {
        using var deadline = new CancellationTokenSource(StationProcess.Patience);
        await foreach (ReceivedAlert alert in _received.Reader.ReadAllAsync(deadline.Token))
        {
            if (wanted(alert))
            {
                return alert;
            }
        }

        throw new InvalidOperationException("The listener was closed.");
    }

    /// <summary>
    /// Standard Webhooks 1.0.0, "Signature scheme" (confirmed): base64 of HMAC-SHA256, keyed with the bytes behind whsec_, over id, full stop,
    /// timestamp, full stop, raw body; the header holds signatures "v1,…" separated by blanks.
    /// </summary>
    public static bool IsSigned(ReceivedAlert alert)
    {
        byte[] told = [.. Encoding.UTF8.GetBytes($"{alert.Id}.{alert.Timestamp}."), .. alert.Body];
        string expected = "v1," + Convert.ToBase64String(HMACSHA256.HashData(Key, told));
        return alert.Signature.Split(' ').Contains(expected, StringComparer.Ordinal);
    }

    public async ValueTask DisposeAsync() => await _app.DisposeAsync();
}

internal sealed record ReceivedAlert(string Id, string Timestamp, string Signature, byte[] Body)
{
    public JsonNode Json => JsonNode.Parse(Body)!;

    public string Type => (string)Json["type"]!;

    public JsonNode Data => Json["data"]!;
}
