using System.Net;
using System.Text;
using System.Text.Json.Nodes;
using Station.Daemon.Jobs;
using Station.Daemon.Tests.Reporting;
using Xunit;

namespace Station.Daemon.Tests.Status;

/// <summary>The cuts of a side over HTTP: who may, what is understood, and what is said when not.</summary>
public sealed class DivisionApiTests : IDisposable
{
    private const string Token = "correct-horse-battery-staple";
    private const string Cue = "TRACK 01 AUDIO\nINDEX 01 00:00:00\n";

    private readonly TemporaryFolder _secrets = new();

    public void Dispose() => _secrets.Dispose();

    [Theory]
    [InlineData("HL-0031", "B", Cue, "text/plain", HttpStatusCode.OK, "")]
    [InlineData("hl-0031", "b", Cue, "application/x-cue", HttpStatusCode.OK, "")]
    [InlineData("HL-0031", "B", "{\"starts\": [\"00:00:00\", 1.5]}", "application/json", HttpStatusCode.OK, "")]
    [InlineData("HL-0031", "A", Cue, "text/plain", HttpStatusCode.NotFound, "no take of side A")]
    [InlineData("HL-0031", "BC", Cue, "text/plain", HttpStatusCode.NotFound, "one letter")]
    [InlineData("HL-0031", "..", Cue, "text/plain", HttpStatusCode.NotFound, "")]
    [InlineData("HL-0039", "A", Cue, "text/plain", HttpStatusCode.NotFound, "There is no record")]
    [InlineData("HL-0031", "B", Cue, "text/html", HttpStatusCode.UnsupportedMediaType, "application/x-cue")]
    [InlineData("HL-0031", "B", "", "text/plain", HttpStatusCode.BadRequest, "no TRACK")]
    [InlineData("HL-0031", "B", "TRACK 01 AUDIO\nINDEX 01 00:60:00\n", "text/plain", HttpStatusCode.BadRequest, "HL-0031-B.cue:1:1: track 1 has no INDEX 01, which says where it starts (1 more)")]
    [InlineData("HL-0031", "B", "{\"starts\": [3, 2]}", "application/json", HttpStatusCode.BadRequest, "starts[1]")]
    [InlineData("HL-0031", "B", "TRACK 01 AUDIO\nINDEX 01 500:00:00\n", "text/plain", HttpStatusCode.BadRequest, "beyond the end of HL-0031-B-c1")]
    public async Task Cuts_are_fixed_or_it_is_said_why_not(string record, string side, string body, string mediaType, HttpStatusCode status, string detail)
    {
        await using StatusHost host = await WithTokenAsync();
        Job before = await DoneAsync(host);
        (HttpStatusCode answered, JsonNode answer, string? type) = await SendAsync(host, HttpMethod.Post, record, side, "Bearer " + Token, body, mediaType);

        Assert.True(status == answered, answer.ToJsonString());
        Job after = (await host.Station.Store.JobAsync(before.Id, CancellationToken.None))!;
        bool isFixed = await host.Station.Store.CueAsync("HL-0031", "B", 1, CancellationToken.None) is not null;
        Assert.Equal((status == HttpStatusCode.OK, status == HttpStatusCode.OK ? JobState.Queued : JobState.Done), (isFixed, after.State));
        if (status != HttpStatusCode.OK)
        {
            // RFC 9457: the media type and its members (confirmed in the RFC).
            Assert.Equal(("application/problem+json", (int)status), (type, (int)answer["status"]!));
            Assert.Contains(detail, (string?)answer["detail"] ?? "", StringComparison.Ordinal);
            Assert.Equal(status == HttpStatusCode.BadRequest, answer["errors"] is JsonArray { Count: > 0 });
        }
    }

    [Theory]
    [InlineData(null, HttpStatusCode.Unauthorized)]
    [InlineData("Bearer wrong-horse-battery-staple", HttpStatusCode.Unauthorized)]
    public async Task Without_the_token_neither_is_possible(string? authorization, HttpStatusCode status)
    {
        await using StatusHost host = await WithTokenAsync();
        Job before = await DoneAsync(host);
        Assert.Equal(status, (await SendAsync(host, HttpMethod.Post, "HL-0031", "B", authorization, Cue, "text/plain")).Status);
        Assert.Equal(status, (await SendAsync(host, HttpMethod.Delete, "HL-0031", "B", authorization, null, null)).Status);
        Assert.Equal(JobState.Done, (await host.Station.Store.JobAsync(before.Id, CancellationToken.None))!.State);
    }

    [Fact]
    public async Task Cuts_are_taken_back_by_deleting_them()
    {
        await using StatusHost host = await WithTokenAsync();
        await DoneAsync(host);
        Assert.Equal(HttpStatusCode.OK, (await SendAsync(host, HttpMethod.Post, "HL-0031", "B", "Bearer " + Token, Cue, "text/plain")).Status);
        Assert.Equal(HttpStatusCode.OK, (await SendAsync(host, HttpMethod.Delete, "HL-0031", "B", "Bearer " + Token, null, null)).Status);
        Assert.Null(await host.Station.Store.CueAsync("HL-0031", "B", 1, CancellationToken.None));
        Assert.Equal(HttpStatusCode.NotFound, (await SendAsync(host, HttpMethod.Delete, "HL-0031", "C", "Bearer " + Token, null, null)).Status);
    }

    [Fact]
    public async Task A_cue_sheet_may_be_longer_than_other_bodies_and_no_longer_than_it_may_be()
    {
        await using StatusHost host = await WithTokenAsync();
        await DoneAsync(host);
        string filler = string.Concat(Enumerable.Repeat("REM " + new string('x', 1000) + "\n", 250));
        Assert.Equal(HttpStatusCode.OK, (await SendAsync(host, HttpMethod.Post, "HL-0031", "B", "Bearer " + Token, filler + Cue, "text/plain")).Status);
        Assert.Equal(HttpStatusCode.RequestEntityTooLarge, (await SendAsync(host, HttpMethod.Post, "HL-0031", "B", "Bearer " + Token, filler + filler, "text/plain")).Status);
    }

    private Task<StatusHost> WithTokenAsync()
    {
        string file = Path.Combine(_secrets.Path, "token");
        File.WriteAllText(file, Token + "\n");
        File.SetUnixFileMode(file, UnixFileMode.UserRead | UnixFileMode.UserWrite);
        return StatusHost.StartAsync(options => options.TokenFile = file);
    }

    private static Task<Job> DoneAsync(StatusHost host) => host.Station.EndedAsync("HL-0031", "B", JobState.Done, new SampleSide());

    private static async Task<(HttpStatusCode Status, JsonNode Answer, string? Type)> SendAsync(
        StatusHost host, HttpMethod method, string record, string side, string? authorization, string? body, string? mediaType)
    {
        using var request = new HttpRequestMessage(method, new Uri($"/api/v1/records/{record}/sides/{side}/division", UriKind.Relative));
        if (body is not null)
        {
            request.Content = new StringContent(body, Encoding.UTF8, mediaType!);
        }

        if (authorization is not null)
        {
            request.Headers.TryAddWithoutValidation("Authorization", authorization);
        }

        using HttpResponseMessage response = await host.Http.SendAsync(request);
        return (response.StatusCode, JsonNode.Parse(await response.Content.ReadAsStringAsync())!, response.Content.Headers.ContentType?.MediaType);
    }
}
