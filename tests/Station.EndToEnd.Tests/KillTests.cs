using System.Collections.Immutable;
using System.Globalization;
using System.Text.Json.Nodes;
using Station.EndToEnd.Tests.Harness;
using Xunit;

namespace Station.EndToEnd.Tests;

/// <summary>
/// kill -9 at any instant: nothing is lost, nothing is half published, nothing is there twice, and the next start goes on by itself.
/// </summary>
/// <remarks>
/// <c>STATION_KILLS</c> (kills at random moments, default 20), <c>STATION_KILL_STEPS</c> (<c>all</c>, or how many operations are drawn in each case) and
/// <c>STATION_KILL_SEED</c> (default 1) make the campaign larger or another one; see tests/kill-campaign.sh.
/// </remarks>
public sealed class KillTests(ITestOutputHelper output)
{
    private static readonly int Seed = Number("STATION_KILL_SEED", 1);

    /// <summary>A process that dies in the same stage three times has its job set aside; the campaign wants to see jobs end, so it allows more.</summary>
    private static void Patient(JsonObject configuration) => configuration["Jobs"] = new JsonObject { ["CrashesBeforeSetAside"] = 20 };

    /// <summary>Kills at random moments while several captures are worked on, some of them right after a start.</summary>
    [Fact]
    public async Task Killed_at_random_moments_every_capture_is_whole_at_every_moment_and_comes_to_its_end_once()
    {
        int kills = Number("STATION_KILLS", 20);
        output.WriteLine($"seed {Seed}, {kills} kills");
        var random = new Random(Seed);
        using var folder = new StationFolder(Patient);
        var dropped = new List<Dropped>();
        var moments = new Dictionary<string, int>(StringComparer.Ordinal);
        for (int n = 0; n < kills; n++)
        {
            if (n % 4 == 0)
            {
                dropped.Add(Drop(folder, dropped.Count, random));
            }

            await using StationProcess station = StationProcess.Launch(folder);
            int wait = random.Next(3) switch
            {
                0 => random.Next(1500),                                         // while it starts and recovers
                _ => await AtWorkAsync(station, random.Next(1800)),             // from the claim on
            };
            await Task.Delay(TimeSpan.FromMilliseconds(wait), TimeProvider.System);
            await station.KillAsync();
            string last = station.Lines is [.., var line] ? line : "not a word";
            output.WriteLine($"kill {n + 1}: {last}");
            moments[Kind(last)] = moments.GetValueOrDefault(Kind(last)) + 1;
            if (random.Next(2) == 0)
            {
                await station.WaitForChildrenToEndAsync();      // else the next start meets codecs that have not noticed yet
            }

            AssertNone(await new Witness(folder).LookAsync(dropped), $"after kill {n + 1} of seed {Seed}", station);
        }

        output.WriteLine(string.Join(", ", moments.Select(m => $"{m.Key}: {m.Value}")));
        await using StationProcess last2 = await StationProcess.StartAsync(folder);
        foreach (Dropped capture in dropped)
        {
            await WaitForEndAsync(last2, Label(capture), EndLine(capture));
        }

        await last2.WaitForCopiesInOrderAsync();
        Assert.Equal(0, await last2.StopAsync());
        await last2.WaitForChildrenToEndAsync();
        AssertNone(await new Witness(folder).LookAtRestAsync(dropped), $"at the end of seed {Seed}", last2);
    }

    /// <summary>
    /// Kills right before the k-th durable operation of a run, for several things a station may have to do; every second time the run after it is
    /// killed as well.
    /// </summary>
    [Theory]
    [InlineData("clean side", 10)]
    [InlineData("clipped side", 4)]
    [InlineData("accepted side", 5)]
    [InlineData("second take", 5)]
    [InlineData("same bytes again", 3)]
    [InlineData("no sound", 3)]
    public async Task Killed_before_any_durable_operation_the_next_start_goes_on(string what, int draws)
    {
        var random = new Random(Seed + what.Length);
        KillScenario scenario = KillScenario.Of(what);
        using StationFolder template = new(Patient);
        await scenario.PrepareAsync(template);
        int steps = await CountStepsAsync(scenario, template);
        ImmutableArray<int> chosen = Choose(steps, draws, random);
        output.WriteLine($"{what}, seed {Seed}, {steps} durable operations, killed before {string.Join(", ", chosen)}");
        foreach (int step in chosen)
        {
            int? second = random.Next(2) == 0 ? 1 + random.Next(steps) : null;
            await KilledAtAsync(scenario, template, step, second);
        }
    }

    /// <summary>The same for a decision that is taken while no service runs: then it is the command that is killed.</summary>
    [Fact]
    public async Task A_discard_killed_before_any_durable_operation_is_finished_by_the_next_start_or_can_be_repeated()
    {
        using StationFolder template = new(Patient);
        KillScenario held = KillScenario.Of("clipped side");
        held.Drop(template);
        await using (StationProcess station = await StationProcess.StartAsync(template))
        {
            await station.WaitForAsync(held.EndLine);
            await station.StopAsync();
        }

        for (int step = 1; ; step++)
        {
            using StationFolder folder = await StationFolder.CopyAsync(template, Patient);
            string[] discard = ["discard", held.Label, "--why", "dust", "--config", folder.ConfigurationFile];
            ToolResult killed = await Tool.RunAsync(
                "env", [string.Create(CultureInfo.InvariantCulture, $"STATION_CRASH_AT=any#{step}"), StationProcess.Program, .. discard]);
            Dropped[] dropped = [held.Dropped[0] with { End = End.Discarded }];
            Assert.Empty(await new Witness(folder).LookAsync(dropped));
            await using StationProcess station = await StationProcess.StartAsync(folder);
            await Tool.StationdAsync(discard);      // refused when the first one got far enough
            Assert.Equal(0, await station.StopAsync());
            AssertNone(await new Witness(folder).LookAtRestAsync(dropped), $"discard killed before operation {step}", station);
            if (killed.ExitCode == 0)
            {
                Assert.InRange(step, 2, 100);
                return;
            }
        }
    }

    private static async Task KilledAtAsync(KillScenario scenario, StationFolder template, int step, int? second)
    {
        using StationFolder folder = await StationFolder.CopyAsync(template, Patient);
        scenario.Drop(folder);
        string where = $"{scenario.What}, killed before operation {step}{(second is { } s ? $", then before operation {s} of the next run" : "")}";
        foreach (int at in second is { } again ? new[] { step, again } : [step])
        {
            await using StationProcess station = StationProcess.Launch(folder, [new("STATION_CRASH_AT", string.Create(CultureInfo.InvariantCulture, $"any#{at}"))]);
            await EndOrDieAsync(station, scenario.EndLine);
            await station.KillAsync();
            AssertNone(await new Witness(folder).LookAsync(scenario.Dropped), where, station);
        }

        await using StationProcess last = await StationProcess.StartAsync(folder);
        await WaitForEndAsync(last, scenario.Label, scenario.EndLine);
        await last.WaitForCopiesInOrderAsync();
        Assert.Equal(0, await last.StopAsync());
        AssertNone(await new Witness(folder).LookAtRestAsync(scenario.Dropped), where, last);
    }

    /// <summary>How many durable operations a run makes from its start until its work is done.</summary>
    private static async Task<int> CountStepsAsync(KillScenario scenario, StationFolder template)
    {
        using StationFolder folder = await StationFolder.CopyAsync(template, Patient);
        scenario.Drop(folder);
        string log = Path.Combine(folder.Scratch, "steps");
        await using StationProcess station = StationProcess.Launch(folder, [new("STATION_CRASH_LOG", log)]);
        await station.WaitForAsync(scenario.EndLine);
        return (await File.ReadAllLinesAsync(log)).Length;
    }

    private static ImmutableArray<int> Choose(int steps, int draws, Random random)
    {
        string? wanted = Environment.GetEnvironmentVariable("STATION_KILL_STEPS");
        if (wanted == "all")
        {
            return [.. Enumerable.Range(1, steps)];
        }

        // One in each of as many equal stretches, so that no part of the way is left out.
        int count = Math.Min(steps, wanted is { Length: > 0 } ? int.Parse(wanted, CultureInfo.InvariantCulture) : draws);
        return [.. Enumerable.Range(0, count).Select(n => 1 + (n * steps / count) + random.Next(Math.Max(1, steps / count)))];
    }

    private static Dropped Drop(StationFolder folder, int n, Random random)
    {
        string record = string.Create(CultureInfo.InvariantCulture, $"HL-{200 + (n / 2):0000}");
        string side = n % 2 == 0 ? "A" : "B";
        bool clipped = random.Next(4) == 0;
        Sound sound = clipped ? Sounds.Clipped(200 + n) : Sounds.Clean(200 + n);
        if (n % 2 == 0)
        {
            folder.Drop(record + ".sheet.yaml", Sounds.Sheet(record, "Tides of " + record));
        }

        folder.Drop($"{record}-{side}.wav", sound.Wav);
        return Dropped.Of(record, side, sound, clipped ? End.Held : End.Published);
    }

    /// <summary>Waits until a job is worked on, or until there is nothing to do.</summary>
    /// <returns>Milliseconds to wait from then on.</returns>
    private static async Task<int> AtWorkAsync(StationProcess station, int milliseconds)
    {
        await station.WaitForAsync("Application started");
        using var idle = new CancellationTokenSource(TimeSpan.FromSeconds(3), TimeProvider.System);
        await Task.WhenAny(station.WaitForAsync("started, attempt"), Task.Delay(Timeout.InfiniteTimeSpan, TimeProvider.System, idle.Token));
        return milliseconds;
    }

    private static async Task EndOrDieAsync(StationProcess station, string endLine)
    {
        try
        {
            await station.WaitForAsync(endLine);
        }
        catch (InvalidOperationException) when (station.HasExited)
        {
            const int KilledBySignal9 = 128 + 9;
            int exitCode = await station.WaitForExitAsync();
            Assert.True(exitCode == KilledBySignal9, $"ended with {exitCode} by itself:\n{station.Transcript()}");
        }
    }

    /// <summary>Waits for the end of a capture's job, which an earlier run may have told of already.</summary>
    private static async Task WaitForEndAsync(StationProcess station, string label, string endLine)
    {
        using var http = new HttpClient { BaseAddress = await station.AddressAsync() };
        using HttpResponseMessage answer = await http.GetAsync(new Uri($"/api/v1/jobs/{label}", UriKind.Relative));
        string state = answer.IsSuccessStatusCode ? (string)JsonNode.Parse(await answer.Content.ReadAsStringAsync())!["state"]! : "unknown";
        if (state is "queued" or "running" or "unknown")
        {
            await station.WaitForAsync(endLine);
        }
    }

    private static string Label(Dropped capture) => $"{capture.Record}-{capture.Side}-c1";

    private static string EndLine(Dropped capture) => $"{Label(capture)}: {(capture.End == End.Held ? "held" : "done")}";

    /// <summary>The last line without what differs from capture to capture.</summary>
    private static string Kind(string line)
    {
        string[] words = line.Split(' ', StringSplitOptions.RemoveEmptyEntries);
        return words.Length > 4 && words[2].StartsWith("HL-", StringComparison.Ordinal) ? $"{words[3]} {words[4].TrimEnd(',')}" : string.Join(' ', words.Skip(2).Take(2));
    }

    private static void AssertNone(IReadOnlyList<string> problems, string where, StationProcess station)
    {
        // After a kill nothing fails either: no stage stumbles over what the killed run left.
        problems = [.. problems, .. station.Lines.Where(l => l.Contains(" ERR ", StringComparison.Ordinal) || l.Contains(" tried again ", StringComparison.Ordinal))];
        Assert.True(problems.Count == 0, $"{where}:\n{string.Join('\n', problems)}\n--- what the service said:\n{station.Transcript()}");
    }

    private static int Number(string variable, int otherwise) =>
        Environment.GetEnvironmentVariable(variable) is { Length: > 0 } text ? int.Parse(text, CultureInfo.InvariantCulture) : otherwise;
}
