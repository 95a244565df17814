using Station.Daemon.Status;
using Station.Daemon.Tests.Reporting;
using Xunit;

namespace Station.Daemon.Tests.Status;

public sealed class HardeningTests : IAsyncLifetime
{
    private StatusHost _host = null!;

    public async ValueTask InitializeAsync()
    {
        _host = await StatusHost.StartAsync(options => options.HostNames = ["turntable.house.example"]);
        await File.WriteAllTextAsync(Path.Combine(_host.Station.Folders.Root, "secret.json"), "{\"secret\":true}");
        await File.WriteAllTextAsync(Path.Combine(_host.Station.Folders.Reports, "secret.json"), "{\"secret\":true}");
    }

    public ValueTask DisposeAsync() => _host.DisposeAsync();

    [Theory]
    [InlineData("/api/v1/jobs/../../../secret.json")]
    [InlineData("/api/v1/jobs/%2e%2e/%2e%2e/secret.json")]
    [InlineData("/api/v1/jobs/%2e%2e%2fsecret/report")]
    [InlineData("/api/v1/jobs/..%2f..%2fsecret/report")]
    [InlineData("/api/v1/jobs/%252e%252e%252fsecret/report")]
    [InlineData("/api/v1/jobs/..%5c..%5csecret/report")]
    [InlineData("/api/v1/jobs/%2fetc%2fpasswd/picture.svg")]
    [InlineData("/api/v1/jobs/secret%00/report")]
    [InlineData("/api/v1/jobs/secret/report")]
    [InlineData("/captures/..%2fsecret.json")]
    [InlineData("/captures/%00")]
    [InlineData("/records/%2e%2e%2f%2e%2e")]
    [InlineData("/station.css/../../secret.json")]
    [InlineData("//secret.json")]
    [InlineData("/api/v1/jobs/' OR 1=1 --/report")]
    [InlineData("/api/v1/jobs/%27%20OR%201=1%20--/report")]
    public async Task A_trick_in_the_path_reads_nothing(string path)
    {
        string answer = await _host.RawAsync("GET " + path);

        Assert.Matches("^HTTP/1.1 (400|404) ", answer);
        Assert.DoesNotContain("\"secret\"", answer, StringComparison.Ordinal);
        Assert.DoesNotContain("   at ", answer, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("localhost", "200")]
    [InlineData("LOCALHOST:8078", "200")]
    [InlineData("127.0.0.1", "200")]
    [InlineData("[::1]:8078", "200")]
    [InlineData("192.168.1.20:8078", "200")]
    [InlineData("turntable.house.example", "200")]
    [InlineData("elsewhere.example", "400")]
    [InlineData("localhost.elsewhere.example", "400")]
    [InlineData("127.0.0.1.elsewhere.example", "400")]
    [InlineData("", "400")]
    public async Task A_request_for_another_hosts_name_is_turned_away(string host, string status) =>
        Assert.StartsWith($"HTTP/1.1 {status} ", await _host.RawAsync("GET /health/live", $"Host: {host}"), StringComparison.Ordinal);

    [Fact]
    public async Task A_request_that_names_no_host_is_turned_away() =>
        Assert.StartsWith("HTTP/1.1 400 ", await _host.RawAsync("GET /health/live", "Accept: */*"), StringComparison.Ordinal);

    [Fact]
    public async Task Huge_headers_and_lines_are_cut_off()
    {
        Assert.StartsWith("HTTP/1.1 431 ", await _host.RawAsync("GET /health/live", "Host: localhost\r\nX-Big: " + new string('x', 20_000)), StringComparison.Ordinal);
        Assert.StartsWith("HTTP/1.1 414 ", await _host.RawAsync("GET /" + new string('x', 5000)), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("127.0.0.1:8078", true)]
    [InlineData("localhost:8078", true)]
    [InlineData("[::1]:8078", true)]
    [InlineData("0.0.0.0:8078", false)]
    [InlineData("192.168.1.20:8078", false)]
    [InlineData("[::]:8078", false)]
    public void An_address_other_machines_reach_needs_a_token(string listen, bool withoutToken)
    {
        Assert.Equal(withoutToken, IsValid(new StatusOptions { Listen = listen }));
        Assert.True(IsValid(new StatusOptions { Listen = listen, TokenEnvironment = "STATION_TOKEN" }));
    }

    [Theory]
    [InlineData("8078")]
    [InlineData("127.0.0.1")]
    [InlineData("127.0.0.1:")]
    [InlineData("127.0.0.1:65536")]
    [InlineData("::1:8078")]
    [InlineData("::1")]
    [InlineData("house.example:8078")]
    [InlineData("")]
    public void What_is_no_address_and_port_is_refused(string listen) => Assert.False(IsValid(new StatusOptions { Listen = listen, TokenEnvironment = "STATION_TOKEN" }));

    [Fact]
    public void The_token_has_one_place_only() =>
        Assert.False(IsValid(new StatusOptions { TokenFile = "/run/token", TokenEnvironment = "STATION_TOKEN" }));

    [Fact]
    public void A_short_token_is_refused_without_repeating_it()
    {
        using var folder = new TemporaryFolder();
        string file = Path.Combine(folder.Path, "token");
        File.WriteAllText(file, "hunter2-hunter2");
        File.SetUnixFileMode(file, UnixFileMode.UserRead);

        string problem = Assert.Throws<Station.Daemon.Configuration.ConfigurationException>(() => StatusToken.Load(new StatusOptions { TokenFile = file })).Message;

        Assert.Contains("Status.TokenFile", problem, StringComparison.Ordinal);
        Assert.DoesNotContain("hunter2", problem, StringComparison.Ordinal);
    }

    private static bool IsValid(StatusOptions options) => System.ComponentModel.DataAnnotations.Validator.TryValidateObject(
        options, new System.ComponentModel.DataAnnotations.ValidationContext(options), [], validateAllProperties: true);
}
