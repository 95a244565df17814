using System.Text.Json.Nodes;
using Station.EndToEnd.Tests.Harness;
using Xunit;

namespace Station.EndToEnd.Tests;

/// <summary>How the service starts, refuses to start, and stops.</summary>
public sealed class StartAndStopTests
{
    private const int SignalInterrupt = 2;
    private const int SignalTerminate = 15;

    [Fact]
    public async Task A_misspelt_key_stops_the_start_with_one_line_that_names_file_line_and_key()
    {
        using var folder = new StationFolder();
        await File.WriteAllTextAsync(folder.ConfigurationFile, $$"""
            {
              // where everything stands
              "Station": { "Folder": "{{folder.Root}}" },
              "Intake": {
                "QiuetSeconds": 1
              }
            }
            """);

        ToolResult result = await Tool.StationdAsync("run", "--config", folder.ConfigurationFile);

        Assert.Equal(78, result.ExitCode);      // EX_CONFIG of sysexits.h (from memory)
        Assert.Equal("", result.Text);
        string line = Assert.Single(result.Error.TrimEnd('\n').Split('\n'));
        Assert.Contains(folder.ConfigurationFile, line, StringComparison.Ordinal);
        Assert.Contains("line 5", line, StringComparison.Ordinal);
        Assert.Contains("QiuetSeconds", line, StringComparison.Ordinal);
        Assert.Contains("QuietSeconds", line, StringComparison.Ordinal);
        Assert.False(Directory.Exists(folder.In("state")), "a refused start wrote something");
    }

    [Theory]
    [InlineData("""{ "Station": { "Folder": "relative/place" } }""", "relative/place")]
    [InlineData("""{ "Station": { "Folder": "FOLDER", "Archive": "FOLDER/inbox" } }""", "inbox")]
    [InlineData("""{ "Station": { "Folder": "FOLDER" }, "Intake": { "QuietSeconds": -1 } }""", "QuietSeconds")]
    [InlineData("""{ "Station": { "Folder": "FOLDER" }, "Intake": { "QuietSeconds": "soon" } }""", "QuietSeconds")]
    [InlineData("""{ "Station": { "Folder": "FOLDER" }, "Status": { "Listen": "0.0.0.0:0" } }""", "Listen")]
    [InlineData("""{ "Station": { "Folder": "FOLDER" ], }""", "JSON")]
    [InlineData("""[]""", "")]
    [InlineData("""null""", "")]
    [InlineData("", "")]
    public async Task A_wrong_configuration_stops_the_start_with_what_is_wrong(string json, string names)
    {
        using var folder = new StationFolder();
        await File.WriteAllTextAsync(folder.ConfigurationFile, json.Replace("FOLDER", folder.Root, StringComparison.Ordinal));

        ToolResult result = await Tool.StationdAsync("run", "--config", folder.ConfigurationFile);

        Assert.Equal(78, result.ExitCode);
        Assert.Contains(names, result.Error, StringComparison.Ordinal);
        Assert.DoesNotContain("   at ", result.Error, StringComparison.Ordinal);     // no stack trace
    }

    [Fact]
    public async Task A_second_service_on_the_same_folder_refuses_within_two_seconds_and_names_the_first()
    {
        using var folder = new StationFolder();
        await using StationProcess first = await StationProcess.StartAsync(folder);

        // The best of a few: a busy machine may hold up any one process.
        TimeSpan shortest = TimeSpan.MaxValue;
        for (int n = 0; n < 5 && shortest > TimeSpan.FromSeconds(2); n++)
        {
            long since = TimeProvider.System.GetTimestamp();
            await using StationProcess second = StationProcess.Launch(folder);
            int exitCode = await second.WaitForExitAsync();
            TimeSpan took = TimeProvider.System.GetElapsedTime(since);
            shortest = took < shortest ? took : shortest;
            Assert.Equal(75, exitCode);      // EX_TEMPFAIL of sysexits.h (from memory)
            Assert.Contains($"process {first.Id}", Assert.Single(second.Lines), StringComparison.Ordinal);
        }

        Assert.InRange(shortest, TimeSpan.Zero, TimeSpan.FromSeconds(2));
        Assert.False(first.HasExited);
    }

    [Theory]
    [InlineData(SignalTerminate)]
    [InlineData(SignalInterrupt)]
    public async Task A_signal_in_the_middle_of_a_job_ends_the_service_cleanly_and_the_next_start_goes_on(int signal)
    {
        using var folder = new StationFolder();
        Sound sound = Sounds.Clean(30);
        await using (StationProcess station = await StationProcess.StartAsync(folder))
        {
            folder.Drop("HL-0070.sheet.yaml", Sounds.Sheet("HL-0070"));
            folder.Drop("HL-0070-A.wav", sound.Wav);
            await station.WaitForAsync("started, attempt 1");
            Tool.Signal(station.Id, signal);
            Assert.Equal(0, await station.WaitForExitAsync(TimeSpan.FromSeconds(10)));
            Assert.Empty(station.Children());
            Assert.DoesNotContain(station.Lines, l => l.Contains(" ERR ", StringComparison.Ordinal));
            Assert.DoesNotContain(station.Lines, l => l.Contains("HL-0070-A-c1: done", StringComparison.Ordinal));
        }

        await using StationProcess next = await StationProcess.StartAsync(folder);
        await next.WaitForDoneAsync("HL-0070-A-c1");
        Assert.Equal(0, await next.StopAsync(TimeSpan.FromSeconds(10)));
        Assert.DoesNotContain(next.Lines, l => l.Contains("unfinished jobs", StringComparison.Ordinal));        // a clean stop is no crash
        Assert.Empty(await new Witness(folder).LookAtRestAsync([Dropped.Of("HL-0070", "A", sound, End.Published)]));
    }

    [Fact]
    public async Task A_job_that_takes_the_service_down_three_times_is_set_aside_and_the_next_one_runs()
    {
        using var folder = new StationFolder();
        Sound sound = Sounds.Clean(31);
        folder.Drop("HL-0071-A.wav", sound.Wav);
        for (int n = 1; n <= 3; n++)
        {
            await using StationProcess station = await StationProcess.StartAsync(folder);
            await station.WaitForAsync($"HL-0071-A-c1: job", times: 1);
            await station.KillAsync();
            await station.WaitForChildrenToEndAsync();
        }

        folder.Drop("HL-0072-A.wav", Sounds.Clean(32).Wav);
        await using StationProcess last = await StationProcess.StartAsync(folder);
        await last.WaitForAsync("HL-0071-A-c1: set aside");
        await last.WaitForDoneAsync("HL-0072-A-c1");

        Assert.Equal(sound.Sha256, Tool.Sha256OfFile(folder.In("held", "HL-0071-A-c1", "HL-0071-A.wav")));
        Assert.Contains("3 times", await File.ReadAllTextAsync(folder.In("held", "HL-0071-A-c1", "reason.txt")), StringComparison.Ordinal);
        ReportSchema.AssertValid(folder.ReportPath("HL-0071-A-c1"));

        // A person may have it tried again.
        ToolResult retried = await Tool.StationdAsync("retry", "HL-0071-A-c1", "--station", folder.Root);
        Assert.Equal((0, ""), (retried.ExitCode, retried.Error));
        await last.WaitForDoneAsync("HL-0071-A-c1");
        Assert.False(Directory.Exists(folder.In("held", "HL-0071-A-c1")));
    }

    [Fact]
    public async Task A_decision_made_while_no_service_runs_is_carried_out_at_the_next_start()
    {
        using var folder = new StationFolder();
        Sound sound = Sounds.Clipped(33);
        await using (StationProcess station = await StationProcess.StartAsync(folder))
        {
            folder.Drop("HL-0073-A.wav", sound.Wav);
            await station.WaitForAsync("HL-0073-A-c1: held");
            await station.KillAsync();
        }

        ToolResult accepted = await Tool.StationdAsync("accept", "HL-0073-A-c1", "--why", "good enough", "--config", folder.ConfigurationFile);
        Assert.Equal((0, ""), (accepted.ExitCode, accepted.Error));

        await using StationProcess next = await StationProcess.StartAsync(folder);
        await next.WaitForDoneAsync("HL-0073-A-c1");
        Assert.Equal(0, await next.StopAsync());
        Assert.Empty(await new Witness(folder).LookAtRestAsync([Dropped.Of("HL-0073", "A", sound, End.Published)]));
    }

    [Fact]
    public async Task Processing_once_without_a_service_makes_the_same_and_never_touches_the_file()
    {
        using var folder = new StationFolder();
        Sound sound = Sounds.Clean();
        string file = Path.Combine(folder.Scratch, "HL-0074-A.wav");
        await File.WriteAllBytesAsync(file, sound.Wav);
        string output = Path.Combine(folder.Scratch, "out");

        ToolResult result = await Tool.StationdAsync("process", file, "--out", output, "--json", "--config", folder.ConfigurationFile);

        Assert.Equal((0, ""), (result.ExitCode, result.Error));
        Assert.Equal("accept", (string?)JsonNode.Parse(result.Text)!["job"]!["verdict"]);
        Assert.Equal(sound.Sha256, Tool.Sha256OfFile(file));
        Assert.Equal(["archive", "listening", "reports"], Directory.EnumerateFileSystemEntries(output).Select(f => Path.GetFileName(f)).Order(StringComparer.Ordinal));
        await Tool.MustRunAsync("sha256sum", ["--check", "--strict", "--quiet", "manifest-sha256.txt"], Path.Combine(output, "archive", "HL-0074", "HL-0074-A-c1"));
    }
}
