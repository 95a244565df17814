using System.Net;
using System.Text.Json.Nodes;
using Station.Audio.Encoding;
using Xunit;

namespace Station.Daemon.Tests.Status;

/// <summary>Status codes and the split into alive and ready: common practice on container platforms, no standard.</summary>
public sealed class HealthTests
{
    private static readonly string[] AllChecks = ["archive", "codecs", "inbox", "listening", "store"];

    [Fact]
    public async Task A_station_in_order_is_alive_and_ready()
    {
        await using StatusHost host = await StatusHost.StartAsync();

        (HttpStatusCode live, JsonNode liveBody) = await AskAsync(host, "/health/live");
        (HttpStatusCode ready, JsonNode readyBody) = await AskAsync(host, "/health/ready");

        Assert.Equal(HttpStatusCode.OK, live);
        Assert.Empty(liveBody["checks"]!.AsArray());
        Assert.Equal(HttpStatusCode.OK, ready);
        Assert.Equal(AllChecks, readyBody["checks"]!.AsArray().Select(c => (string)c!["name"]!).Order(StringComparer.Ordinal));
        Assert.All(readyBody["checks"]!.AsArray(), c => Assert.True((bool)c!["ok"]!));
    }

    [Fact]
    public async Task Without_its_inbox_it_is_alive_but_not_ready()
    {
        await using StatusHost host = await StatusHost.StartAsync();
        Directory.Delete(host.Station.Folders.Inbox);

        Assert.Equal(HttpStatusCode.OK, (await AskAsync(host, "/health/live")).Status);
        await AssertFailsAsync(host, "inbox");

        Directory.CreateSymbolicLink(host.Station.Folders.Inbox, host.Station.Folders.Reports);
        await AssertFailsAsync(host, "inbox");

        Directory.Delete(host.Station.Folders.Inbox);
        Directory.CreateDirectory(host.Station.Folders.Inbox);
        Assert.Equal(HttpStatusCode.OK, (await AskAsync(host, "/health/ready")).Status);
    }

    [Fact]
    public async Task Without_its_archive_it_is_not_ready()
    {
        await using StatusHost host = await StatusHost.StartAsync();
        File.Delete(Path.Combine(host.Station.Folders.Archive, Station.Archive.Copies.CopiesMarker.FileName));
        Assert.Contains("marker", await AssertFailsAsync(host, "archive"), StringComparison.Ordinal);

        Directory.Delete(host.Station.Folders.Archive);
        await AssertFailsAsync(host, "archive");
    }

    [Fact]
    public async Task Without_a_codec_it_is_not_ready()
    {
        await using StatusHost host = await StatusHost.StartAsync(codecs: CodecTools.FromPath() with { Lame = "" });

        string? problem = await AssertFailsAsync(host, "codecs");
        Assert.Contains("lame", problem, StringComparison.Ordinal);
    }

    private static async Task<string?> AssertFailsAsync(StatusHost host, string name)
    {
        (HttpStatusCode status, JsonNode body) = await AskAsync(host, "/health/ready");
        Assert.Equal(HttpStatusCode.ServiceUnavailable, status);
        JsonNode failed = Assert.Single(body["checks"]!.AsArray(), c => !(bool)c!["ok"]!)!;
        Assert.Equal(name, (string?)failed["name"]);
        Assert.DoesNotContain(host.Station.Folders.Root, body.ToJsonString(), StringComparison.Ordinal);
        return (string?)failed["problem"];
    }

    private static async Task<(HttpStatusCode Status, JsonNode Body)> AskAsync(StatusHost host, string path)
    {
        using HttpResponseMessage response = await host.Http.GetAsync(new Uri(path, UriKind.Relative));
        Assert.True(response.Headers.CacheControl!.NoStore);
        return (response.StatusCode, JsonNode.Parse(await response.Content.ReadAsStringAsync())!);
    }
}
