using System.Globalization;
using System.Net;
using System.Net.Http.Headers;
using System.Text;
using System.Text.Json.Nodes;
using Station.EndToEnd.Tests.Harness;
using Xunit;

namespace Station.EndToEnd.Tests;

/// <summary>A person corrects the cuts of a side that is published already: by command, over HTTP and through the inbox, with the real process.</summary>
public sealed class DivisionTests : IDisposable
{
    private const string Record = "HL-0090";
    private const string Label = Record + "-A-c1";
    private const string Token = "correct-horse-battery-staple";

    // Three tracks where the sheet has two; 75 parts to the second (IEC 60908), so 588 frames each at 44.1 kHz.
    private const string Three = "TRACK 01 AUDIO\n  INDEX 01 00:01:10\nTRACK 02 AUDIO\n  INDEX 00 00:05:00\n  INDEX 01 00:06:05\nTRACK 03 AUDIO\n  INDEX 01 00:11:37\n";
    private const string Two = "TRACK 01 AUDIO\n  INDEX 01 00:01:20\nTRACK 02 AUDIO\n  INDEX 01 00:08:15\n";
    private static readonly string[] Beside = ["Tide Tables (flac).m3u8", "Tide Tables (mp3).m3u8", "record.json"];
    private static readonly string[] ThreeNames = ["A-01.flac", "A-01.mp3", "A-02.flac", "A-02.mp3", "A-03.flac", "A-03.mp3", .. Beside];
    private static readonly string[] TwoNames = ["01 Low Water.flac", "01 Low Water.mp3", "02 Slack Tide.flac", "02 Slack Tide.mp3", .. Beside];

    private readonly string _secrets = Directory.CreateTempSubdirectory("st").FullName;

    public void Dispose() => Directory.Delete(_secrets, recursive: true);

    [Fact]
    public async Task A_published_side_is_cut_again_by_command_over_http_and_from_the_inbox_and_its_master_stays_as_it_is()
    {
        string tokenFile = Path.Combine(_secrets, "token");
        await File.WriteAllTextAsync(tokenFile, Token + "\n");
        File.SetUnixFileMode(tokenFile, UnixFileMode.UserRead | UnixFileMode.UserWrite);
        using var folder = new StationFolder(c => c["Status"]!["TokenFile"] = tokenFile);
        Sound sound = Sounds.Clean(90);
        string before;
        string[] automatic;
        await using (StationProcess station = await StationProcess.StartAsync(folder))
        {
            folder.Drop(Record + ".sheet.yaml", Sounds.Sheet(Record));
            folder.Drop(Record + "-A.wav", sound.Wav);
            await station.WaitForDoneAsync(Label);
            before = await BagAsync(folder);
            automatic = Copies(folder);
            Assert.Equal(TwoNames, automatic.Select(c => c.Split(' ', 2)[1]));

            // By command, in any case. The cut files are the dropped file's own words from second to second.
            ToolResult told = await DivideAsync(folder, "hl-0090", "a", "--cue", Cue("three.cue", Three));
            Assert.Equal((0, "", $"{Label}: 3 tracks fixed; it is cut from the master now."), (told.ExitCode, told.Error, told.Text.Trim()));
            await station.WaitForAsync(Label + ": done", 2);
            Assert.Equal(ThreeNames, Names(folder));
            await AssertCutAsync(folder, sound, "A-01.flac", Frames(1, 10), Frames(5, 0));
            await AssertCutAsync(folder, sound, "A-02.flac", Frames(6, 5), Frames(11, 37));
            JsonNode report = folder.Report(Label);
            Assert.Equal(("done", "cue", 1.0), ((string?)report["job"]!["state"], (string?)report["division"]!["method"], (double)report["division"]!["confidence"]!));
            ReportSchema.AssertValid(folder.ReportPath(Label));

            // The same again is no work.
            Assert.EndsWith("it was cut so already.", (await DivideAsync(folder, Record, "A", "--cue", Cue("three.cue", Three))).Text.Trim(), StringComparison.Ordinal);

            // Over HTTP, with the token alone; times as parts or seconds.
            using var http = new HttpClient { BaseAddress = await station.AddressAsync() };
            Assert.Equal(HttpStatusCode.Unauthorized, (await SendAsync(http, HttpMethod.Post, "{\"starts\": [1, 8]}", "application/json", authorised: false)).Status);
            (HttpStatusCode status, JsonNode answer) = await SendAsync(http, HttpMethod.Post, "{\"starts\": [\"00:01:20\", 8.2]}", "application/json");
            Assert.Equal((HttpStatusCode.OK, Label), (status, (string?)answer["capture"]));
            await station.WaitForAsync(Label + ": done", 3);
            Assert.Equal(TwoNames, Names(folder));
            await AssertCutAsync(folder, sound, "01 Low Water.flac", Frames(1, 20), Frames(8, 15));

            (status, answer) = await SendAsync(http, HttpMethod.Post, "TRACK 01 AUDIO\nINDEX 01 00:01:00\nTRACK 02 AUDIO\nINDEX 01 00:00:74\n", "text/plain");
            Assert.Equal(HttpStatusCode.BadRequest, status);
            Assert.Equal((4, 10), ((int)answer["errors"]![0]!["line"]!, (int)answer["errors"]![0]!["column"]!));
            Assert.Contains("00:00:74 is not later", (string?)answer["errors"]![0]!["reason"], StringComparison.Ordinal);

            // From the inbox.
            folder.Drop(Record + "-A.cue", Encoding.UTF8.GetBytes(Three));
            await station.WaitForAsync(Label + ": done", 4);
            Assert.Equal(ThreeNames, Names(folder));

            // A sheet with another count says nothing against a person's cuts, now or after a start.
            string[] cut = Copies(folder);
            folder.Drop(Record + ".sheet.yaml", Encoding.UTF8.GetBytes(Encoding.UTF8.GetString(Sounds.Sheet(Record)).Replace("  B:", "      - title: Neap\n      - title: Ebb\n  B:", StringComparison.Ordinal)));
            await station.WaitForAsync("sheet taken for record", 2);
            Assert.Equal(0, await station.StopAsync());
            await using StationProcess again = await StationProcess.StartAsync(folder);
            folder.Drop(Record + ".sheet.yaml", Sounds.Sheet(Record));
            await again.WaitForAsync("sheet taken for record");
            await again.WaitForCopiesInOrderAgainAsync();
            Assert.Equal("cue", (string?)folder.Report(Label)["division"]!["method"]);
            Assert.Equal(cut, Copies(folder));

            // Another playing has other times: it is divided by itself, and that is said.
            folder.Drop(Record + "-A.wav", Sounds.Clean(91).Wav);
            await again.WaitForDoneAsync(Record + "-A-c2");
            JsonNode second = folder.Report(Record + "-A-c2");
            Assert.NotEqual("cue", (string?)second["division"]!["method"]);
            Assert.Contains(second["findings"]!.AsArray(), f => ((string?)f!["message"])!.Contains("fixed for take A-1 are not used for take A-2", StringComparison.Ordinal) && (string?)f["severity"] == "note");
            Assert.Equal(TwoNames, Names(folder));
            Assert.Equal(0, await again.StopAsync());
        }

        Assert.Equal(before, await BagAsync(folder));
        Assert.Equal(0, (await Tool.StationdAsync("verify", folder.In("archive"))).ExitCode);
        Assert.Equal(
            ["track starts fixed", "track starts fixed", "track starts fixed"],
            Events(folder).Where(e => (string?)e["take"] == "A-1" && ((string?)e["type"])!.StartsWith("track starts", StringComparison.Ordinal)).Select(e => (string?)e["type"]));
        Assert.Equal(3, Events(folder).Count(e => (string?)e["type"] == "take divided again"));
    }

    [Fact]
    public async Task Cuts_are_taken_back_with_and_without_a_service_and_what_cannot_be_is_said_in_a_line_and_changes_nothing()
    {
        using var folder = new StationFolder();
        string[] automatic;
        string before;
        await using (StationProcess station = await StationProcess.StartAsync(folder))
        {
            folder.Drop(Record + ".sheet.yaml", Sounds.Sheet(Record));
            folder.Drop(Record + "-A.wav", Sounds.Clean(90).Wav);
            folder.Drop("HL-0093.sheet.yaml", Sounds.Sheet("HL-0093", "Neap Tables"));
            (Station.Audio.Synthesis.SynthesisedCapture inParts, long gap) = Sounds.InParts();
            folder.Drop("HL-0091-A.part1.wav", Sounds.Wav(inParts, 0, gap));
            folder.Drop("HL-0092-AB.wav", Sounds.Wav(Sounds.BothSides));
            await station.WaitForDoneAsync(Label);
            await station.WaitForAsync("HL-0091-A-c1: held");
            await station.WaitForAsync("HL-0092-AB-c1: ");
            await station.WaitForAsync(l => l.Contains("HL-0092-AB-c1: done", StringComparison.Ordinal) || l.Contains("HL-0092-AB-c1: held", StringComparison.Ordinal), "HL-0092 judged");
            automatic = Copies(folder);
            before = await BagAsync(folder);
            await AssertRefusedAsync(folder);
            Assert.Equal(0, await station.StopAsync());
        }

        // Without a service, under the station's lock.
        await AssertRefusedAsync(folder);
        Assert.Equal(automatic, Copies(folder));
        Assert.DoesNotContain(Events(folder), e => ((string?)e["type"])!.StartsWith("track starts", StringComparison.Ordinal));
        ToolResult alone = await DivideAsync(folder, Record, "A", "--cue", Cue("two.cue", Two));
        Assert.Equal((0, $"{Label}: 2 tracks fixed; it is cut from the master when the service runs."), (alone.ExitCode, alone.Text.Trim()));
        Assert.Equal(automatic, Copies(folder));
        await using (StationProcess station = await StationProcess.StartAsync(folder))
        {
            await station.WaitForDoneAsync(Label);
            Assert.NotEqual(automatic, Copies(folder));
            ToolResult released = await DivideAsync(folder, Record, "A", "--automatic");
            Assert.Equal((0, $"{Label}: divided by the service again; it is cut from the master now."), (released.ExitCode, released.Text.Trim()));
            await station.WaitForAsync(Label + ": done", 2);
            Assert.Equal(0, await station.StopAsync());
        }

        Assert.Equal(automatic, Copies(folder));      // nothing of time or machine goes into a copy
        Assert.Equal(before, await BagAsync(folder));
        Assert.Equal(["track starts fixed", "track starts released"], Events(folder).Select(e => (string)e["type"]!).Where(t => t.StartsWith("track starts", StringComparison.Ordinal)));
    }

    /// <summary>The decision alone: the command is killed before each of its durable operations.</summary>
    [Fact]
    public async Task A_command_killed_at_any_step_has_fixed_the_cuts_or_not_and_the_next_start_makes_it_whole()
    {
        using StationFolder template = new(Patient);
        Sound sound = Sounds.Clean(90);
        await PublishAsync(template, sound);
        for (int step = 1; ; step++)
        {
            using StationFolder folder = await StationFolder.CopyAsync(template, Patient);
            ToolResult killed = await Tool.RunAsync(
                "env",
                [
                    string.Create(CultureInfo.InvariantCulture, $"STATION_CRASH_AT=any#{step}"), StationProcess.Program, "divide", Record, "A", "--cue", Cue("three.cue", Three), "--config", folder.ConfigurationFile,
                ]);
            bool toldBefore = IsFixed(folder);
            Assert.True(killed.ExitCode != 0 || toldBefore, "said to be done and not in the history");
            await using StationProcess station = await StationProcess.StartAsync(folder);
            await AssertComesToRestAsync(station, folder, sound, $"killed before operation {step}", mustBeCut: toldBefore);
            if (killed.ExitCode == 0)
            {
                Assert.InRange(step, 3, 60);
                return;
            }
        }
    }

    /// <summary>Between the event and the switch: the service is killed while it cuts again.</summary>
    [Fact]
    public async Task A_service_killed_while_it_cuts_again_comes_to_the_new_cuts_and_shows_whole_sides_meanwhile()
    {
        const int Draws = 6;
        using StationFolder template = new(Patient);
        Sound sound = Sounds.Clean(90);
        await PublishAsync(template, sound);
        Assert.Equal(0, (await DivideAsync(template, Record, "A", "--cue", Cue("three.cue", Three))).ExitCode);
        Assert.True(IsFixed(template));
        string bag = await BagAsync(template);
        int steps;
        using (StationFolder counted = await StationFolder.CopyAsync(template, Patient))
        {
            string log = Path.Combine(counted.Scratch, "steps");
            await using StationProcess station = StationProcess.Launch(counted, [new("STATION_CRASH_LOG", log)]);
            await station.WaitForDoneAsync(Label);
            await station.KillAsync();
            steps = (await File.ReadAllLinesAsync(log)).Length;
        }

        var random = new Random(1);
        for (int n = 0; n < Draws; n++)
        {
            int step = 1 + (n * steps / Draws) + random.Next(steps / Draws);
            using StationFolder folder = await StationFolder.CopyAsync(template, Patient);
            await using (StationProcess station = StationProcess.Launch(folder, [new("STATION_CRASH_AT", string.Create(CultureInfo.InvariantCulture, $"any#{step}"))]))
            {
                await Assert.ThrowsAnyAsync<Exception>(() => station.WaitForAsync(Label + ": never said"));
                await station.KillAsync();
            }

            string[] listed = Listed(folder);
            Assert.True(
                listed.SequenceEqual(ThreeNames.SkipLast(Beside.Length)) || listed.SequenceEqual(TwoNames.SkipLast(Beside.Length)),
                $"killed before operation {step}: record.json lists {string.Join(", ", listed)}");
            Assert.Empty(await new Witness(folder).LookAsync([Dropped.Of(Record, "A", sound, End.Published)]));
            await using StationProcess again = await StationProcess.StartAsync(folder);
            await AssertComesToRestAsync(again, folder, sound, $"killed before operation {step} of {steps}", mustBeCut: true);
            Assert.Equal(bag, await BagAsync(folder));
        }
    }

    private static void Patient(JsonObject configuration) => configuration["Jobs"] = new JsonObject { ["CrashesBeforeSetAside"] = 20 };

    private static async Task PublishAsync(StationFolder folder, Sound sound)
    {
        folder.Drop(Record + ".sheet.yaml", Sounds.Sheet(Record));
        folder.Drop(Record + "-A.wav", sound.Wav);
        await using StationProcess station = await StationProcess.StartAsync(folder);
        await station.WaitForDoneAsync(Label);
        await station.StopAsync();
    }

    /// <summary>Waits until the job is done, stops the service, and looks whether history, report and copies say the same.</summary>
    private static async Task AssertComesToRestAsync(StationProcess station, StationFolder folder, Sound sound, string where, bool mustBeCut)
    {
        using var http = new HttpClient { BaseAddress = await station.AddressAsync() };
        long since = TimeProvider.System.GetTimestamp();
        while (true)
        {
            // A start queues what is left to be cut before it answers, and what is done writes no history any more.
            string state = (string)JsonNode.Parse(await http.GetStringAsync(new Uri($"/api/v1/jobs/{Label}", UriKind.Relative)))!["state"]!;
            if (state == "done")
            {
                break;
            }

            Assert.True(TimeProvider.System.GetElapsedTime(since) < TimeSpan.FromSeconds(60), $"{where}: {state}\n{station.Transcript()}");
            await Task.Delay(TimeSpan.FromMilliseconds(50), TimeProvider.System);
        }

        Assert.True(IsFixed(folder) || !mustBeCut, where);
        Assert.Equal(IsFixed(folder), (string?)folder.Report(Label)["division"]!["method"] == "cue");
        Assert.Equal(0, await station.StopAsync());
        Assert.Equal(IsFixed(folder) ? ThreeNames : TwoNames, Names(folder));
        Assert.Empty(await new Witness(folder).LookAtRestAsync([Dropped.Of(Record, "A", sound, End.Published)]));
        Assert.True(Events(folder).Count(e => (string?)e["type"] == "track starts fixed") <= 1, where);
    }

    private async Task AssertRefusedAsync(StationFolder folder)
    {
        string good = Cue("good.cue", Two);
        string late = Cue("late.cue", "TRACK 01 AUDIO\nINDEX 01 00:01:00\nTRACK 02 AUDIO\nINDEX 01 00:59:00\n");
        string many = Cue("many.cue", string.Concat(Enumerable.Range(1, 100).Select(n => FormattableString.Invariant($"TRACK {n:00} AUDIO\nINDEX 01 00:{n / 10:00}:{n % 10:00}\n"))));

        // 64 and 70 are those of BSD's sysexits.h (from memory).
        foreach ((string record, string side, string[] how, int code, string says) in new (string, string, string[], int, string)[]
        {
            (Record, "A", [], 64, "--automatic"),
            (Record, "A", ["--cue", good, "--automatic"], 64, "--automatic"),
            (Record, "AB", ["--cue", good], 64, "one letter"),
            (Record, "A", ["--cue", Path.Combine(_secrets, "nowhere.cue")], 64, "nowhere.cue"),
            (Record, "A", ["--cue", Cue("empty.cue", "")], 64, "empty.cue:1:1: the cue sheet has no TRACK"),
            (Record, "A", ["--cue", Cue("text.cue", "dear diary\n")], 64, "text.cue:1:1: unknown command"),
            (Record, "A", ["--cue", Cue("falling.cue", "TRACK 01 AUDIO\nINDEX 01 00:02:00\nTRACK 02 AUDIO\nINDEX 01 00:01:00\n")], 64, "falling.cue:4:10: 00:01:00 is not later"),
            (Record, "A", ["--cue", Cue("overlap.cue", "TRACK 01 AUDIO\nINDEX 01 00:02:00\nTRACK 02 AUDIO\nINDEX 00 00:01:00\nINDEX 01 00:03:00\n")], 64, "overlap.cue:4:10: 00:01:00 is not later"),
            (Record, "A", ["--cue", many], 64, "many.cue:199:1: a cue sheet has at most 99 tracks"),
            (Record, "A", ["--cue", late], 64, ":4:10: track 2 would start at 00:59:00, beyond the end of HL-0090-A-c1 at 00:17:"),
            (Record, "C", ["--cue", good], 70, "no take of side C"),
            ("HL-0093", "A", ["--cue", good], 70, "No side of HL-0093 has a take yet"),
            ("HL-0099", "A", ["--cue", good], 70, "There is no record"),
            ("HL-0091", "A", ["--cue", good], 70, "is in parts"),
            ("HL-0092", "B", ["--cue", good], 70, "of several sides"),
            ("HL-0092", "B", ["--automatic"], 70, "of several sides"),
        })
        {
            ToolResult refused = await DivideAsync(folder, [record, side, .. how]);
            Assert.Equal((code, ""), (refused.ExitCode, refused.Text));
            Assert.Contains(says, refused.Error, StringComparison.Ordinal);
        }
    }

    private string Cue(string name, string text)
    {
        string path = Path.Combine(_secrets, name);
        File.WriteAllText(path, text);
        return path;
    }

    private static Task<ToolResult> DivideAsync(StationFolder folder, params string[] arguments) =>
        Tool.StationdAsync(["divide", .. arguments, "--station", folder.Root]);

    private static async Task<(HttpStatusCode Status, JsonNode Answer)> SendAsync(HttpClient http, HttpMethod method, string body, string mediaType, bool authorised = true)
    {
        using var request = new HttpRequestMessage(method, new Uri($"/api/v1/records/{Record}/sides/A/division", UriKind.Relative)) { Content = new StringContent(body, Encoding.UTF8, mediaType) };
        request.Headers.Authorization = authorised ? new AuthenticationHeaderValue("Bearer", Token) : null;
        using HttpResponseMessage response = await http.SendAsync(request);
        return (response.StatusCode, JsonNode.Parse(await response.Content.ReadAsStringAsync())!);
    }

    private static string Copy(StationFolder folder, string name) => folder.In("listening", "The Lantern Street Quintet", "Tide Tables", name);

    private static string[] Names(StationFolder folder) =>
        [.. Directory.EnumerateFileSystemEntries(Copy(folder, "")).Select(f => Path.GetFileName(f)).Order(StringComparer.Ordinal)];

    /// <summary>Digest and name of each, but for what record.json says.</summary>
    private static string[] Copies(StationFolder folder) =>
        [.. Names(folder).Select(n => n == "record.json" ? "- " + n : $"{Tool.Sha256OfFile(Copy(folder, n))} {n}")];

    private static string[] Listed(StationFolder folder) =>
    [
        .. JsonNode.Parse(File.ReadAllText(Copy(folder, "record.json")))!["sides"]!.AsArray().SelectMany(s => s!["tracks"]!.AsArray()).SelectMany(t => t!["files"]!.AsArray())
            .Select(f => (string)f!["file"]!).Order(StringComparer.Ordinal),
    ];

    private static async Task AssertCutAsync(StationFolder folder, Sound sound, string name, long first, long end)
    {
        byte[] cut = await Tool.DecodeAsync(Copy(folder, name), "s16le");
        Assert.True(sound.Words(first, end).SequenceEqual(cut), $"{name}: {cut.Length / 4} frames, expected the dropped file's from {first} to {end}");
    }

    private static long Frames(int seconds, int parts) => (seconds * 44_100L) + (parts * 588L);

    /// <summary>Names, times, modes and content, by programs that aren't ours.</summary>
    private static async Task<string> BagAsync(StationFolder folder) =>
        (await Tool.MustRunAsync("bash", ["-c", "cd \"$1\" && find . -printf '%p %m %T@ %s\\n' | sort && find . -type f -print0 | sort -z | xargs -0 sha256sum", "-", folder.In("archive", Record, Label)])).Text;

    private static bool IsFixed(StationFolder folder) => Events(folder).Any(e => (string?)e["type"] == "track starts fixed");

    private static JsonNode[] Events(StationFolder folder) =>
        [.. File.ReadAllLines(folder.In("archive", Record, "events.jsonl")).Select(Parsed).OfType<JsonNode>()];

    private static JsonNode? Parsed(string line)
    {
        try
        {
            return JsonNode.Parse(line);
        }
        catch (System.Text.Json.JsonException)
        {
            return null;       // a torn line, as docs/formats/archive.md says
        }
    }
}
