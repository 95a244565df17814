using System.Text.Json.Nodes;
using Station.EndToEnd.Tests.Harness;
using Xunit;

namespace Station.EndToEnd.Tests;

/// <summary>A capture under a wrong name, with the real process and the real commands.</summary>
public sealed class IdentityTests
{
    [Fact]
    public async Task The_same_file_under_another_name_waits_for_a_person_and_is_mended_everywhere_but_in_its_bag()
    {
        using var folder = new StationFolder();
        Sound sound = Sounds.Clean(60);
        folder.Drop("HL-0092.sheet.yaml", Sounds.Sheet("HL-0092", "Ebb Tables"));
        await using (StationProcess station = await StationProcess.StartAsync(folder))
        {
            await station.WaitForAsync("sheet taken for record HL-0092");
            folder.Drop("HL-0090-A.wav", sound.Wav);
            await station.WaitForDoneAsync("HL-0090-A-c1");
            folder.Drop("hl-0091-a.WAV", sound.Wav);
            await station.WaitForAsync("hl-0091-A-c1: held");

            JsonNode report = folder.Report("hl-0091-A-c1");
            Assert.Equal("review", (string?)report["job"]!["verdict"]);
            JsonNode finding = Assert.Single(report["findings"]!.AsArray(), f => (string?)f!["code"] == "known-elsewhere")!;
            Assert.Equal("The same bytes are archived as HL-0090-A-c1.", (string?)finding["message"]);
            ReportSchema.AssertValid(folder.ReportPath("hl-0091-A-c1"));
            await AssertGivesBackAsync(folder, "HL-0090", "HL-0090-A-c1", sound);
            await AssertGivesBackAsync(folder, "hl-0091", "hl-0091-A-c1", sound);

            // What can't be is said in one line; 64 and 70 are those of BSD's sysexits.h (from memory).
            foreach ((string capture, string target, int code) in new[]
            {
                ("HL-0091-A-c1", "HL-0092", 64), ("HL-0091-A-c1", "../HL-0092-A", 64), ("HL-0091-A-c1", "HL-0091-A", 70), ("HL-0091-A-c1", "HL-0090-A", 70), ("HL-0099-A-c1", "HL-0092-A", 70),
            })
            {
                ToolResult refused = await IdentifyAsync(folder, capture, target);
                Assert.Equal((code, ""), (refused.ExitCode, refused.Text));
                Assert.Single(refused.Error.Trim().Split('\n'));
            }

            string before = await ListAsync(folder, "archive/hl-0091/hl-0091-A-c1");
            ToolResult identified = await IdentifyAsync(folder, "HL-0091-A-c1", "HL-0092-A", "--json");
            Assert.Equal((0, ""), (identified.ExitCode, identified.Error));
            Assert.Equal("HL-0092", (string?)JsonNode.Parse(identified.Text)!["record"]);
            await station.WaitForDoneAsync("hl-0091-A-c1");

            string[] published =
            [
                .. Directory.EnumerateFiles(folder.In("listening", "The Lantern Street Quintet", "Ebb Tables")).Select(f => Path.GetFileName(f)).Order(StringComparer.Ordinal),
            ];
            Assert.Equal(["01 Low Water.flac", "01 Low Water.mp3", "02 Slack Tide.flac", "02 Slack Tide.mp3", "Ebb Tables (flac).m3u8", "Ebb Tables (mp3).m3u8", "record.json"], published);
            Assert.Equal(before, await ListAsync(folder, "archive/hl-0091/hl-0091-A-c1"));
            Assert.Equal(0, (await Tool.StationdAsync("verify", folder.In("archive", "hl-0091", "hl-0091-A-c1"))).ExitCode);
            await AssertGivesBackAsync(folder, "hl-0091", "hl-0091-A-c1", sound);
            Assert.False(Directory.Exists(folder.In("held", "hl-0091-A-c1")));
            report = folder.Report("hl-0091-A-c1");
            Assert.Equal(("done", "HL-0092"), ((string?)report["job"]!["state"], (string?)report["record"]!["id"]));
            ReportSchema.AssertValid(folder.ReportPath("hl-0091-A-c1"));
            Assert.Equal(0, await station.StopAsync());
        }

        // Without a service, under the station's lock; it goes on at the next start.
        ToolResult alone = await IdentifyAsync(folder, "HL-0090-A-c1", "HL-0093-B");
        Assert.Equal((0, "HL-0090-A-c1: filed as HL-0093-B; it goes on from there when the service runs."), (alone.ExitCode, alone.Text.Trim()));
        Assert.Equal(2, EventsOf(folder, "HL-0090").Concat(EventsOf(folder, "HL-0093")).Count(e => (string?)e["type"] == "capture identified"));
        Assert.NotEmpty(folder.Files("listening", "HL-0090"));
        await using (StationProcess again = await StationProcess.StartAsync(folder))
        {
            await again.WaitForDoneAsync("HL-0090-A-c1");
            Assert.False(Directory.Exists(folder.In("listening", "HL-0090")));
            Assert.NotEmpty(folder.Files("listening", "HL-0093"));
            await AssertGivesBackAsync(folder, "HL-0090", "HL-0090-A-c1", sound);
        }
    }

    private static Task<ToolResult> IdentifyAsync(StationFolder folder, string capture, string target, params string[] more) =>
        Tool.StationdAsync(["identify", capture, "--as", target, "--station", folder.Root, .. more]);

    private static async Task AssertGivesBackAsync(StationFolder folder, string record, string label, Sound sound)
    {
        string output = Path.Combine(folder.Scratch, Path.GetRandomFileName());
        ToolResult restored = await Tool.StationdAsync("restore", folder.In("archive", record, label), "-o", output);
        Assert.Equal((0, ""), (restored.ExitCode, restored.Error));
        Assert.Equal(sound.Sha256, Tool.Sha256OfFile(output));
    }

    /// <summary>Names, times, modes and content, by a program that isn't ours.</summary>
    private static async Task<string> ListAsync(StationFolder folder, string bag) =>
        (await Tool.RunAsync("bash", ["-c", "cd \"$1\" && find . -printf '%p %m %T@ %s\\n' | sort && find . -type f -print0 | sort -z | xargs -0 sha256sum", "-", folder.In(bag.Split('/'))])).Text;

    private static JsonNode[] EventsOf(StationFolder folder, string record) =>
        [.. File.ReadAllLines(folder.In("archive", record, "events.jsonl")).Select(l => JsonNode.Parse(l)!)];
}
