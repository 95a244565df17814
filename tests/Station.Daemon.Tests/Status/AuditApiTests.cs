using System.Net;
using System.Text;
using System.Text.Json.Nodes;
using Station.Daemon.Jobs;
using Station.Daemon.Tests.Reporting;
using Xunit;

namespace Station.Daemon.Tests.Status;

public sealed class AuditApiTests : IDisposable
{
    private const string Token = "correct-horse-battery-staple";

    private readonly TemporaryFolder _secrets = new();

    public void Dispose() => _secrets.Dispose();

    [Fact]
    public async Task An_audit_is_begun_once_however_often_it_is_asked_for()
    {
        await using StatusHost host = await HostAsync();
        await host.Station.EndedAsync("HL-0031", "A", JobState.Done);
        (HttpStatusCode status, JsonNode audit, Uri? location) = await PostAsync(host, null);
        Assert.Equal(HttpStatusCode.Accepted, status);
        Assert.Equal(("running", "archive", 0), ((string?)audit["state"], (string?)audit["places"]![0]!["place"], (int?)audit["places"]![0]!["copiesRead"]));
        Assert.Equal((HttpStatusCode.Accepted, (string?)audit["id"]), ((await PostAsync(host, """{"place": "archive"}""")).Status, (string?)(await PostAsync(host, "{}")).Body["id"]));
        Assert.Equal($"/api/v1/audits/{audit["id"]}", location?.ToString());
        Assert.True(JsonNode.DeepEquals(audit, JsonNode.Parse(await host.GetAsync(location!.ToString()))));

        JsonNode list = JsonNode.Parse(await host.GetAsync("/api/v1/audits"))!;
        Assert.True(JsonNode.DeepEquals(audit, Assert.Single(list["audits"]!.AsArray())));
        Assert.Null(list["next"]);
        Assert.Contains("Last audit asked for:", await host.GetAsync("/"), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(null, HttpStatusCode.Conflict)]                             // there is no bag yet
    [InlineData("{\"place\": \"cellar\"}", HttpStatusCode.BadRequest)]
    [InlineData("{\"where\": \"archive\"}", HttpStatusCode.BadRequest)]
    public async Task What_cannot_be_begun_is_refused_with_a_reason(string? body, HttpStatusCode expected)
    {
        await using StatusHost host = await HostAsync();
        (HttpStatusCode status, JsonNode problem, _) = await PostAsync(host, body);
        Assert.Equal(expected, status);
        Assert.NotEmpty((string?)problem["detail"] ?? (string)problem["title"]!);
        Assert.Empty(JsonNode.Parse(await host.GetAsync("/api/v1/audits"))!["audits"]!.AsArray());
    }

    [Fact]
    public async Task Beginning_one_needs_the_token_and_asking_for_one_that_is_not_there_is_answered_so()
    {
        await using StatusHost host = await HostAsync();
        await host.Station.EndedAsync("HL-0031", "A", JobState.Done);
        using HttpResponseMessage refused = await host.Http.PostAsync(new Uri("/api/v1/audits", UriKind.Relative), null);
        Assert.Equal(HttpStatusCode.Unauthorized, refused.StatusCode);
        using HttpResponseMessage none = await host.Http.GetAsync(new Uri("/api/v1/audits/nowhere", UriKind.Relative));
        Assert.Equal(HttpStatusCode.NotFound, none.StatusCode);
        using HttpResponseMessage limit = await host.Http.GetAsync(new Uri("/api/v1/audits?limit=0", UriKind.Relative));
        Assert.Equal(HttpStatusCode.BadRequest, limit.StatusCode);
    }

    [Fact]
    public async Task The_copies_of_a_bag_and_the_standing_of_each_place_are_shown()
    {
        await using StatusHost host = await HostAsync();
        Job job = await host.Station.EndedAsync("HL-0031", "A", JobState.Done);
        string archived = job.Capture.ArchivedAt!.Value.UtcDateTime.ToString("yyyy-MM-dd'T'HH:mm:ss.fff'Z'", System.Globalization.CultureInfo.InvariantCulture);
        JsonNode copy = Assert.Single(JsonNode.Parse(await host.GetAsync($"/api/v1/jobs/{job.Id}"))!["copies"]!.AsArray())!;
        Assert.Equal(("archive", "verified", archived), ((string?)copy["place"], (string?)copy["state"], (string?)copy["verifiedAt"]));
        JsonNode place = Assert.Single(JsonNode.Parse(await host.GetAsync("/api/v1/station"))!["places"]!.AsArray())!;
        Assert.Equal(("archive", 1, 0, 0, archived),
            ((string?)place["place"], (int?)place["verified"], (int?)place["behind"], (int?)place["damaged"], (string?)place["oldestReadingAt"]));
        Assert.Contains("every byte read and right", await host.GetAsync($"/captures/{job.Capture.Label}"), StringComparison.Ordinal);
        Assert.Contains("1 right; oldest reading", await host.GetAsync("/"), StringComparison.Ordinal);
    }

    private Task<StatusHost> HostAsync()
    {
        string file = Path.Combine(_secrets.Path, "token");
        File.WriteAllText(file, Token);
        File.SetUnixFileMode(file, UnixFileMode.UserRead | UnixFileMode.UserWrite);
        return StatusHost.StartAsync(options => options.TokenFile = file);
    }

    private static async Task<(HttpStatusCode Status, JsonNode Body, Uri? Location)> PostAsync(StatusHost host, string? body)
    {
        using var request = new HttpRequestMessage(HttpMethod.Post, new Uri("/api/v1/audits", UriKind.Relative));
        request.Headers.TryAddWithoutValidation("Authorization", "Bearer " + Token);
        request.Content = body is null ? null : new StringContent(body, Encoding.UTF8, "application/json");
        using HttpResponseMessage response = await host.Http.SendAsync(request);
        return (response.StatusCode, JsonNode.Parse(await response.Content.ReadAsStringAsync())!, response.Headers.Location);
    }
}
