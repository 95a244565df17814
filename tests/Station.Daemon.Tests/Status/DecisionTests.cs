using System.Net;
using System.Net.Http.Json;
using System.Text;
using System.Text.Json.Nodes;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Status;
using Station.Daemon.Tests.Reporting;
using Xunit;

namespace Station.Daemon.Tests.Status;

/// <summary>Who may decide: over the network only with the token, through the control socket whoever can open it.</summary>
public sealed class DecisionTests : IDisposable
{
    private const string Token = "correct-horse-battery-staple";

    private readonly TemporaryFolder _secrets = new();

    public void Dispose() => _secrets.Dispose();

    [Theory]
    [InlineData("accept")]
    [InlineData("discard")]
    [InlineData("retry")]
    public async Task Without_a_configured_token_the_network_is_told_how_to_do_it(string decision)
    {
        await using StatusHost host = await StatusHost.StartAsync();
        Job job = await HeldAsync(host);

        using HttpResponseMessage response = await PostAsync(host, $"/api/v1/jobs/{job.Id}/{decision}", "Bearer " + Token);

        Assert.Equal(HttpStatusCode.Forbidden, response.StatusCode);
        Assert.Contains("TokenFile", await DetailAsync(response), StringComparison.Ordinal);
        Assert.Equal(JobState.Held, (await host.Station.Store.JobAsync(job.Id, CancellationToken.None))!.State);
    }

    [Theory]
    [InlineData(null)]
    [InlineData("Bearer ")]
    [InlineData("Bearer correct-horse-battery-stapl")]
    [InlineData("Bearer correct-horse-battery-staplee")]
    [InlineData("Bearer CORRECT-HORSE-BATTERY-STAPLE")]
    [InlineData("Basic correct-horse-battery-staple")]
    [InlineData("correct-horse-battery-staple")]
    public async Task A_missing_or_wrong_token_is_refused(string? authorization)
    {
        await using StatusHost host = await WithTokenAsync();
        Job job = await HeldAsync(host);

        using HttpResponseMessage response = await PostAsync(host, $"/api/v1/jobs/{job.Id}/accept", authorization);

        Assert.Equal(HttpStatusCode.Unauthorized, response.StatusCode);
        Assert.Equal("Bearer", response.Headers.WwwAuthenticate.Single().Scheme);
        Assert.DoesNotContain(Token, await response.Content.ReadAsStringAsync(), StringComparison.Ordinal);
        Assert.Equal(JobState.Held, (await host.Station.Store.JobAsync(job.Id, CancellationToken.None))!.State);
    }

    [Theory]
    [InlineData("accept", "queued")]
    [InlineData("discard", "discarded")]
    [InlineData("retry", "queued")]
    public async Task With_the_token_a_decision_is_carried_out(string decision, string state)
    {
        await using StatusHost host = await WithTokenAsync();
        Job job = await HeldAsync(host);

        using HttpResponseMessage response = await PostAsync(host, $"/api/v1/jobs/{job.Capture.Label}/{decision}", "Bearer " + Token);

        Assert.Equal(HttpStatusCode.OK, response.StatusCode);
        Assert.Equal(state, (string?)JsonNode.Parse(await response.Content.ReadAsStringAsync())!["state"]);
        Assert.Equal(Enum.Parse<JobState>(state, ignoreCase: true), (await host.Station.Store.JobAsync(job.Id, CancellationToken.None))!.State);
    }

    [Fact]
    public async Task Reading_needs_no_token()
    {
        await using StatusHost host = await WithTokenAsync();
        await HeldAsync(host);

        Assert.Contains("HL-0031-B-c1", await host.GetAsync("/api/v1/jobs"), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_decision_sent_by_a_foreign_page_is_refused_even_with_the_token()
    {
        await using StatusHost host = await WithTokenAsync();
        Job job = await HeldAsync(host);
        using HttpRequestMessage request = Post($"/api/v1/jobs/{job.Id}/accept", "Bearer " + Token);
        request.Headers.Add("Origin", "https://elsewhere.example");

        using HttpResponseMessage response = await host.Http.SendAsync(request);

        Assert.Equal(HttpStatusCode.Forbidden, response.StatusCode);
    }

    [Fact]
    public async Task A_form_of_a_page_is_not_understood()
    {
        await using StatusHost host = await WithTokenAsync();
        Job job = await HeldAsync(host);
        using HttpRequestMessage request = Post($"/api/v1/jobs/{job.Id}/accept", "Bearer " + Token);
        request.Content = new StringContent("{\"why\":\"x\"}", Encoding.UTF8, "text/plain");

        using HttpResponseMessage response = await host.Http.SendAsync(request);

        Assert.Equal(HttpStatusCode.UnsupportedMediaType, response.StatusCode);
    }

    [Theory]
    [InlineData("{\"why\": \"\"}")]
    [InlineData("{\"why\": \"   \"}")]
    [InlineData("{}")]
    [InlineData("{\"why\": 3}")]
    [InlineData("{\"why\": \"x\", \"force\": true}")]
    [InlineData("no json")]
    [InlineData("")]
    public async Task Accepting_needs_a_reason_in_the_form_described(string body)
    {
        await using StatusHost host = await WithTokenAsync();
        Job job = await HeldAsync(host);
        using HttpRequestMessage request = Post($"/api/v1/jobs/{job.Id}/accept", "Bearer " + Token);
        request.Content = new StringContent(body, Encoding.UTF8, "application/json");

        using HttpResponseMessage response = await host.Http.SendAsync(request);

        Assert.Equal(HttpStatusCode.BadRequest, response.StatusCode);
        Assert.Equal("application/problem+json", response.Content.Headers.ContentType!.MediaType);
        Assert.Equal(JobState.Held, (await host.Station.Store.JobAsync(job.Id, CancellationToken.None))!.State);
    }

    [Fact]
    public async Task A_reason_of_a_thousand_characters_is_kept_and_one_more_is_refused()
    {
        await using StatusHost host = await WithTokenAsync();
        Job job = await HeldAsync(host);

        using HttpResponseMessage tooLong = await PostAsync(host, $"/api/v1/jobs/{job.Id}/accept", "Bearer " + Token, new string('x', 1001));
        using HttpResponseMessage fits = await PostAsync(host, $"/api/v1/jobs/{job.Id}/accept", "Bearer " + Token, new string('x', 1000));

        Assert.Equal(HttpStatusCode.BadRequest, tooLong.StatusCode);
        Assert.Equal(HttpStatusCode.OK, fits.StatusCode);
        Assert.Equal(1000, (await host.Station.Store.JobAsync(job.Id, CancellationToken.None))!.AcceptedWhy!.Length);
    }

    [Fact]
    public async Task A_huge_body_is_cut_off()
    {
        await using StatusHost host = await WithTokenAsync();
        Job job = await HeldAsync(host);

        using HttpResponseMessage response = await PostAsync(host, $"/api/v1/jobs/{job.Id}/accept", "Bearer " + Token, new string('x', 100_000));

        Assert.Equal(HttpStatusCode.RequestEntityTooLarge, response.StatusCode);
    }

    [Fact]
    public async Task What_does_not_fit_the_state_answers_409_with_the_reason()
    {
        await using StatusHost host = await WithTokenAsync();
        Job job = await host.Station.QueuedAsync("HL-0031", "B");

        using HttpResponseMessage response = await PostAsync(host, $"/api/v1/jobs/{job.Id}/accept", "Bearer " + Token);

        Assert.Equal(HttpStatusCode.Conflict, response.StatusCode);
        Assert.Contains("queued", await DetailAsync(response), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("Bearer " + Token, "{\"as\": \"hl-0032-a\"}", HttpStatusCode.OK, "")]
    [InlineData("Bearer " + Token, "{\"as\": \"HL-0032\"}", HttpStatusCode.BadRequest, "names no side")]
    [InlineData("Bearer " + Token, "{\"as\": \"../x-A\"}", HttpStatusCode.BadRequest, "not the name of a file")]
    [InlineData("Bearer " + Token, "{\"as\": \" \"}", HttpStatusCode.BadRequest, "HL-0032-B")]
    [InlineData("Bearer " + Token, "{}", HttpStatusCode.BadRequest, "HL-0032-B")]
    [InlineData("Bearer " + Token, "{\"as\": \"hl-0031-b\"}", HttpStatusCode.Conflict, "filed as HL-0031-B already")]
    [InlineData("Bearer wrong", "{\"as\": \"HL-0032-A\"}", HttpStatusCode.Unauthorized, "token")]
    public async Task A_capture_is_filed_elsewhere_by_who_may_decide_and_under_a_name_alone(string authorization, string body, HttpStatusCode status, string detail)
    {
        await using StatusHost host = await WithTokenAsync();
        Job job = await HeldAsync(host);
        using HttpRequestMessage request = Post($"/api/v1/jobs/{job.Capture.Label}/identify", authorization);
        request.Content = new StringContent(body, Encoding.UTF8, "application/json");

        using HttpResponseMessage response = await host.Http.SendAsync(request);

        Assert.Equal(status, response.StatusCode);
        Job after = (await host.Station.Store.JobAsync(job.Id, CancellationToken.None))!;
        if (status == HttpStatusCode.OK)
        {
            JsonNode told = JsonNode.Parse(await response.Content.ReadAsStringAsync())!;
            Assert.Equal(("hl-0032", "A", "queued"), ((string?)told["record"], (string?)told["sides"], (string?)told["state"]));
            Assert.Equal(("hl-0032", "A", JobState.Queued), (after.Capture.RecordId, after.Capture.Sides, after.State));
        }
        else
        {
            Assert.Contains(detail, await DetailAsync(response), StringComparison.Ordinal);
            Assert.Equal(("HL-0031", "B", JobState.Held), (after.Capture.RecordId, after.Capture.Sides, after.State));
        }
    }

    [Fact]
    public async Task Through_the_control_socket_no_token_is_needed()
    {
        await using StatusHost host = await StatusHost.StartAsync();
        Job job = await HeldAsync(host);
        using var client = new ControlClient(host.Station.Folders.ControlSocket);

        Assert.True(await client.IsServiceRunningAsync(CancellationToken.None));
        ControlAnswer answer = await client.AcceptAsync("hl-0031-b-c1", "the hum is on the record itself", CancellationToken.None);

        Assert.True(answer.Ok, answer.Text);
        Assert.Contains("HL-0031-B-c1", answer.Text, StringComparison.Ordinal);
        Job accepted = (await host.Station.Store.JobAsync(job.Id, CancellationToken.None))!;
        Assert.Equal(JobState.Queued, accepted.State);
        Assert.Equal("the hum is on the record itself", accepted.AcceptedWhy);
    }

    [Fact]
    public async Task The_client_tells_what_the_service_objected_to()
    {
        await using StatusHost host = await StatusHost.StartAsync();
        await host.Station.QueuedAsync("HL-0031", "B");
        using var client = new ControlClient(host.Station.Folders.ControlSocket);

        ControlAnswer unknown = await client.DiscardAsync("../../etc/passwd", "x", CancellationToken.None);
        ControlAnswer wrongState = await client.RetryAsync("HL-0031-B-c1", CancellationToken.None);

        Assert.False(unknown.Ok);
        Assert.Contains("no such job", unknown.Text, StringComparison.OrdinalIgnoreCase);
        Assert.False(wrongState.Ok);
        Assert.Contains("queued", wrongState.Text, StringComparison.Ordinal);
    }

    [Fact]
    public async Task The_control_socket_is_the_owners_only()
    {
        await using StatusHost host = await StatusHost.StartAsync();

        Assert.Equal(UnixFileMode.UserRead | UnixFileMode.UserWrite, File.GetUnixFileMode(host.Station.Folders.ControlSocket));
    }

    [Fact]
    public async Task A_socket_file_nobody_listens_on_is_no_running_service()
    {
        using var station = new SampleStation();
        using var client = new ControlClient(station.Folders.ControlSocket);
        Assert.False(await client.IsServiceRunningAsync(CancellationToken.None));

        await File.WriteAllTextAsync(station.Folders.ControlSocket, "left behind");
        Assert.False(await client.IsServiceRunningAsync(CancellationToken.None));
    }

    // unix(7): a socket's path has at most 108 bytes with its closing zero (confirmed in the manual page).
    [Fact]
    public void A_station_folder_too_deep_for_the_socket_is_told_at_the_start()
    {
        ControlSocket.CheckPath("/" + new string('x', 106));

        Assert.Contains("107", Assert.Throws<ConfigurationException>(() => ControlSocket.CheckPath("/" + new string('x', 107))).Message, StringComparison.Ordinal);
    }

    private Task<StatusHost> WithTokenAsync()
    {
        string file = Path.Combine(_secrets.Path, "token");
        File.WriteAllText(file, Token + "\n");
        File.SetUnixFileMode(file, UnixFileMode.UserRead | UnixFileMode.UserWrite);
        return StatusHost.StartAsync(options => options.TokenFile = file);
    }

    private static Task<Job> HeldAsync(StatusHost host) =>
        host.Station.EndedAsync("HL-0031", "B", JobState.Held, new SampleSide { Findings = [SampleSide.Clipped] });

    private static async Task<HttpResponseMessage> PostAsync(StatusHost host, string path, string? authorization, string why = "no louder copy exists")
    {
        using HttpRequestMessage request = Post(path, authorization);
        request.Content = JsonContent.Create(new { why });
        return await host.Http.SendAsync(request);
    }

    private static HttpRequestMessage Post(string path, string? authorization)
    {
        var request = new HttpRequestMessage(HttpMethod.Post, path);
        if (authorization is not null)
        {
            request.Headers.TryAddWithoutValidation("Authorization", authorization);
        }

        return request;
    }

    private static async Task<string> DetailAsync(HttpResponseMessage response) => (string)JsonNode.Parse(await response.Content.ReadAsStringAsync())!["detail"]!;
}
