using System.Net;
using System.Net.Http.Json;
using System.Text.Json.Nodes;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Tests.Reporting;
using Xunit;

namespace Station.Daemon.Tests.Status;

public sealed class ApiTests : IAsyncLifetime
{
    private StatusHost _host = null!;

    public async ValueTask InitializeAsync() => _host = await StatusHost.StartAsync();

    public ValueTask DisposeAsync() => _host.DisposeAsync();

    [Fact]
    public async Task Jobs_come_newest_first_and_page_by_page()
    {
        foreach (string record in new[] { "HL-0001", "HL-0002", "HL-0003", "HL-0004", "HL-0005" })
        {
            await _host.Station.QueuedAsync(record, "A");
        }

        JsonObject first = await JsonAsync("/api/v1/jobs?limit=2");
        JsonObject second = await JsonAsync($"/api/v1/jobs?limit=2&before={first["next"]}");
        JsonObject third = await JsonAsync($"/api/v1/jobs?limit=2&before={second["next"]}");

        Assert.Equal(["HL-0005", "HL-0004"], Records(first));
        Assert.Equal(["HL-0003", "HL-0002"], Records(second));
        Assert.Equal(["HL-0001"], Records(third));
        Assert.Null(third["next"]);
    }

    [Fact]
    public async Task Jobs_can_be_asked_for_by_state_and_record()
    {
        await _host.Station.EndedAsync("HL-0001", "A", JobState.Done);
        await _host.Station.EndedAsync("HL-0002", "A", JobState.Held, new SampleSide { Findings = [SampleSide.Clipped] });
        await _host.Station.QueuedAsync("HL-0002", "B");

        Assert.Equal(["HL-0002"], Records(await JsonAsync("/api/v1/jobs?state=held")));
        Assert.Equal(["HL-0002", "HL-0002"], Records(await JsonAsync("/api/v1/jobs?record=hl-0002")));
        Assert.Equal(["HL-0002"], Records(await JsonAsync("/api/v1/jobs?record=HL-0002&state=queued")));
    }

    [Fact]
    public async Task A_job_is_found_by_id_and_by_what_people_call_its_capture()
    {
        Job job = await _host.Station.EndedAsync("HL-0031", "B", JobState.Held, new SampleSide { Findings = [SampleSide.Clipped], RecommendedChangeDb = -8.5 });

        JsonObject byId = await JsonAsync($"/api/v1/jobs/{job.Id}");
        JsonObject byLabel = await JsonAsync("/api/v1/jobs/HL-0031-B-c1");

        Assert.Equal(byId.ToJsonString(), byLabel.ToJsonString());
        Assert.Equal("HL-0031-B-c1", (string?)byId["capture"]);
        Assert.Equal("held", (string?)byId["state"]);
        Assert.Equal("retake", (string?)byId["verdict"]);
        Assert.Equal(-8.5, (double?)byId["recommendedChangeDb"]);
        Assert.Equal("B", (string?)byId["takes"]![0]!["side"]);
        Assert.Equal("pending", (string?)byId["takes"]![0]!["state"]);
        Assert.Equal($"/api/v1/jobs/{job.Id}/report", (string?)byId["report"]);
    }

    [Fact]
    public async Task The_stored_report_and_picture_are_handed_out_byte_for_byte()
    {
        Job job = await _host.Station.EndedAsync("HL-0031", "B", JobState.Held, new SampleSide { Findings = [SampleSide.Clipped] });

        byte[] report = await _host.Http.GetByteArrayAsync(new Uri($"/api/v1/jobs/{job.Id}/report", UriKind.Relative));
        using HttpResponseMessage picture = await _host.Http.GetAsync(new Uri($"/api/v1/jobs/{job.Id}/picture.svg", UriKind.Relative));

        Assert.Equal(await File.ReadAllBytesAsync(_host.Station.Reports.ReportPath(job)), report);
        Assert.Equal("held", ReportJson.Deserialize(report).Job.State);
        Assert.Equal("image/svg+xml", picture.Content.Headers.ContentType!.MediaType);
        Assert.Equal(await File.ReadAllBytesAsync(_host.Station.Reports.PicturePath(job)), await picture.Content.ReadAsByteArrayAsync());
        Assert.DoesNotContain("script-src", picture.Headers.GetValues("Content-Security-Policy").Single(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task A_job_without_a_report_answers_404_with_words()
    {
        Job job = await _host.Station.QueuedAsync("HL-0031", "B");

        await AssertProblemAsync($"/api/v1/jobs/{job.Id}/report", HttpStatusCode.NotFound, "no report yet");
        await AssertProblemAsync($"/api/v1/jobs/{job.Id}/picture.svg", HttpStatusCode.NotFound, "no picture");
    }

    [Theory]
    [InlineData("/api/v1/jobs?limit=0", "limit")]
    [InlineData("/api/v1/jobs?limit=501", "limit")]
    [InlineData("/api/v1/jobs?state=asleep", "queued")]
    [InlineData("/api/v1/jobs?state=1", "queued")]
    [InlineData("/api/v1/records?limit=-1", "limit")]
    [InlineData("/api/v1/alerts?limit=9999", "limit")]
    public async Task A_wrong_question_answers_400_and_says_what_is_possible(string path, string says) => await AssertProblemAsync(path, HttpStatusCode.BadRequest, says);

    [Theory]
    [InlineData("/api/v1/jobs/HL-9999-A-c1")]
    [InlineData("/api/v1/records/HL-9999")]
    [InlineData("/api/v1/nothing")]
    [InlineData("/nothing")]
    public async Task What_is_not_there_answers_404_as_a_problem_document(string path) => await AssertProblemAsync(path, HttpStatusCode.NotFound, says: null);

    [Fact]
    public async Task A_number_that_is_none_answers_400() => await AssertProblemAsync("/api/v1/jobs?limit=many", HttpStatusCode.BadRequest, says: null);

    [Fact]
    public async Task Another_method_answers_405()
    {
        using var request = new HttpRequestMessage(HttpMethod.Delete, "/api/v1/jobs");

        using HttpResponseMessage response = await _host.Http.SendAsync(request);

        Assert.Equal(HttpStatusCode.MethodNotAllowed, response.StatusCode);
        Assert.Equal("application/problem+json", response.Content.Headers.ContentType!.MediaType);
    }

    [Fact]
    public async Task Records_show_each_side_and_how_far_it_is()
    {
        await _host.Station.SheetAsync("HL-0031", "The Lantern Street Quintet", "Tide Tables", "sides: {A: {}, B: {}, C: {}, D: {absent: true}}");
        await _host.Station.EndedAsync("HL-0031", "A", JobState.Done);
        await _host.Station.EndedAsync("HL-0031", "B", JobState.Held, new SampleSide { Findings = [SampleSide.Clipped] });

        JsonObject list = await JsonAsync("/api/v1/records");
        JsonObject record = await JsonAsync("/api/v1/records/hl-0031");

        JsonNode inList = list["records"]![0]!;
        Assert.Equal("HL-0031", (string?)inList["id"]);
        Assert.Equal("Tide Tables", (string?)inList["title"]);
        Assert.Equal(["A kept 1", "B open ", "C to-play ", "D blank "], inList["sides"]!.AsArray().Select(s => $"{s!["side"]} {s["standing"]} {s["currentTake"]}"));
        Assert.Equal(inList["sides"]!.ToJsonString(), record["sides"]!.ToJsonString());
        Assert.Equal(["A accepted HL-0031-A-c1", "B pending HL-0031-B-c1"], record["takes"]!.AsArray().Select(t => $"{t!["side"]} {t["state"]} {t["captures"]![0]}"));
    }

    [Fact]
    public async Task Alerts_show_how_far_each_receiver_is()
    {
        await _host.Station.AlertAsync("take.retake", "HL-0031 side B: play it again.");
        string id = (string)(await JsonAsync("/api/v1/alerts"))["alerts"]![0]!["id"]!;
        await _host.Station.Store.OfferAlertAsync(id, ["house"], CancellationToken.None);
        await _host.Station.Store.DeliveryTryingAsync(id, "house", CancellationToken.None);
        await _host.Station.Store.DeliveryTriedAsync(id, "house", AlertState.Pending, _host.Station.Clock.GetUtcNow().AddSeconds(5), "answered 503", CancellationToken.None);

        JsonNode alert = (await JsonAsync("/api/v1/alerts"))["alerts"]![0]!;

        Assert.Equal("take.retake", (string?)alert["type"]);
        Assert.Equal("pending", (string?)alert["state"]);
        Assert.Equal("answered 503", (string?)alert["deliveries"]![0]!["lastError"]);
        Assert.Equal(1, (int?)alert["deliveries"]![0]!["attempts"]);
    }

    [Fact]
    public async Task The_station_counts_its_jobs_and_names_no_path()
    {
        await _host.Station.EndedAsync("HL-0031", "A", JobState.Done);
        await _host.Station.QueuedAsync("HL-0031", "B");

        JsonObject station = await JsonAsync("/api/v1/station");

        Assert.Equal("Lantern Street", (string?)station["name"]);
        Assert.Equal(1, (int?)station["jobs"]!["done"]);
        Assert.Equal(1, (int?)station["jobs"]!["queued"]);
        Assert.Equal(0, (int?)station["jobs"]!["held"]);
        Assert.All(station["disks"]!.AsArray(), d => Assert.True((long)d!["freeBytes"]! >= 0));
        Assert.DoesNotContain(_host.Station.Folders.Root, station.ToJsonString(), StringComparison.Ordinal);
    }

    [Fact]
    public async Task No_answer_is_kept_sniffed_or_signed_with_a_server_name()
    {
        using HttpResponseMessage response = await _host.Http.GetAsync(new Uri("/api/v1/jobs", UriKind.Relative));

        Assert.False(response.Headers.Contains("Server"));
        Assert.Equal("no-store", response.Headers.CacheControl!.ToString());
        Assert.Equal("nosniff", response.Headers.GetValues("X-Content-Type-Options").Single());
        Assert.False(response.Headers.Contains("Access-Control-Allow-Origin"));
    }

    private async Task<JsonObject> JsonAsync(string path) => (await _host.Http.GetFromJsonAsync<JsonObject>(new Uri(path, UriKind.Relative)))!;

    private static string[] Records(JsonObject list) => [.. list["jobs"]!.AsArray().Select(j => (string)j!["record"]!)];

    // RFC 9457: media type, and title and status as members (confirmed).
    private async Task AssertProblemAsync(string path, HttpStatusCode status, string? says)
    {
        using HttpResponseMessage response = await _host.Http.GetAsync(new Uri(path, UriKind.Relative));
        Assert.Equal(status, response.StatusCode);
        Assert.Equal("application/problem+json", response.Content.Headers.ContentType!.MediaType);
        JsonObject problem = JsonNode.Parse(await response.Content.ReadAsStringAsync())!.AsObject();
        Assert.Equal((int)status, (int?)problem["status"]);
        Assert.NotNull(problem["title"]);
        if (says is not null)
        {
            Assert.Contains(says, (string)problem["detail"]!, StringComparison.OrdinalIgnoreCase);
        }
    }
}
