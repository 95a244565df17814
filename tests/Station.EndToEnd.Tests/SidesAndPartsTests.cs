using System.Text.Json.Nodes;
using Station.Audio.Synthesis;
using Station.EndToEnd.Tests.Harness;
using Xunit;

namespace Station.EndToEnd.Tests;

/// <summary>Two sides in a file, two parts of a side, a stylus lifted on the way: through the real process, one station for all.</summary>
public sealed class SidesAndPartsTests(SidesAndPartsTests.Station station) : IClassFixture<SidesAndPartsTests.Station>
{
    private StationFolder Folder => station.Folder;

    [Fact]
    public async Task Two_sides_in_a_file_are_published_apart()
    {
        byte[] content = Sounds.Wav(Sounds.BothSides);
        await SheetAsync("HL-0060", "Both Sides");
        Folder.Drop("HL-0060-AB.wav", content);
        await station.Process.WaitForDoneAsync("HL-0060-AB-c1");

        JsonNode[] sides = Published("Both Sides");
        Assert.Equal([("A", 2), ("B", 2)], sides.Select(s => ((string)s["side"]!, s["tracks"]!.AsArray().Count)));
        ReportSchema.AssertValid(Folder.ReportPath("HL-0060-AB-c1"));
        JsonNode report = Folder.Report("HL-0060-AB-c1");
        JsonNode note = Assert.Single(report["findings"]!.AsArray(), f => (string?)f!["code"] == "side-change-inside")!;
        Assert.Equal("note", (string?)note["severity"]);

        // Truth from the synthesis: when the stylus left side A and came down on side B.
        double second = Sounds.BothSides.FirstFrames[1] / 44_100.0;
        Assert.Equal(Sounds.BothSides.Sides[0].Truth.LiftSeconds, (double)report["takes"]![0]!["spans"]![0]!["endSeconds"]!, 1.0);
        Assert.Equal(second + Sounds.BothSides.Sides[1].Truth.NeedleDownSeconds, (double)report["takes"]![1]!["spans"]![0]!["startSeconds"]!, 1.0);
        await AssertGivesBackAsync("HL-0060", "HL-0060-AB-c1", content);
    }

    [Fact]
    public async Task Two_parts_become_one_take_and_each_bag_gives_its_part_back()
    {
        // The sheet names no lengths: a person says that the last part is in.
        (SynthesisedCapture capture, long gap) = Sounds.InParts();
        byte[] one = Sounds.Wav(capture, 0, gap);
        byte[] two = Sounds.Wav(capture, gap);
        Folder.Drop("HL-0061-A.part1.wav", one);
        await station.Process.WaitForAsync("HL-0061-A-c1: held");
        Folder.Drop("HL-0061-A.part2.wav", two);
        await station.Process.WaitForAsync("HL-0061-A-c2: held");

        ToolResult accepted = await Tool.StationdAsync("accept", "HL-0061-A-c1", "--why", "both parts are in", "--station", Folder.Root);
        Assert.Equal((0, ""), (accepted.ExitCode, accepted.Error));
        await station.Process.WaitForDoneAsync("HL-0061-A-c1");
        await station.Process.WaitForDoneAsync("HL-0061-A-c2");

        JsonNode record = Assert.Single(Records(), r => (string?)r["record"] == "HL-0061");
        JsonNode side = Assert.Single(record["sides"]!.AsArray())!;
        Assert.Equal(["HL-0061-A-c1", "HL-0061-A-c2"], side["bags"]!.AsArray().Select(b => (string?)b));
        Assert.Equal(2, side["tracks"]!.AsArray().Count);
        foreach (string label in new[] { "HL-0061-A-c1", "HL-0061-A-c2" })
        {
            ReportSchema.AssertValid(Folder.ReportPath(label));
            Assert.Equal("done", (string?)Folder.Report(label)["job"]!["state"]);
            Assert.False(Directory.Exists(Folder.In("held", label)));
        }

        Assert.Equal(gap / 44_100.0, (double)Folder.Report("HL-0061-A-c2")["division"]!["breaks"]![0]!["atSeconds"]!, 4);
        await AssertGivesBackAsync("HL-0061", "HL-0061-A-c1", one);
        await AssertGivesBackAsync("HL-0061", "HL-0061-A-c2", two);
        JsonNode told = Assert.Single(Events("HL-0061"), e => (string?)e["type"] == "take accepted");
        Assert.Equal(["HL-0061-A-c1", "HL-0061-A-c2"], told["details"]!["spans"]!.AsArray().Select(s => (string?)s!["capture"]));
    }

    [Fact]
    public async Task A_stylus_lifted_inside_the_side_is_held_and_told()
    {
        Folder.Drop("HL-0062-A.wav", Sounds.Wav(Sounds.Lifted));
        await station.Process.WaitForAsync("HL-0062-A-c1: held");
        JsonNode report = Folder.Report("HL-0062-A-c1");
        Assert.Equal(("held", "review"), ((string)report["job"]!["state"]!, (string)report["job"]!["verdict"]!));
        JsonNode finding = Assert.Single(report["findings"]!.AsArray(), f => (string?)f!["code"] == "side-change-inside")!;
        Assert.Equal("review", (string?)finding["severity"]);
        Assert.Equal(19, (double)finding["spans"]![0]!["startSeconds"]!, 1.0);
        Assert.Equal(25, (double)finding["spans"]![0]!["endSeconds"]!, 1.0);
        Assert.DoesNotContain(report["division"]!["tracks"]!.AsArray(), t => (double)t!["startSeconds"]! < 22 && (double)t["endSeconds"]! > 22);
        ReportSchema.AssertValid(Folder.ReportPath("HL-0062-A-c1"));
    }

    [Fact]
    public async Task Parts_processed_in_one_call_are_one_take()
    {
        (SynthesisedCapture capture, long gap) = Sounds.InParts();
        string output = Path.Combine(Folder.Scratch, "once");
        string one = Path.Combine(Folder.Scratch, "HL-0031-A.part1.wav");
        string two = Path.Combine(Folder.Scratch, "HL-0031-A.part2.wav");
        string sheet = Path.Combine(Folder.Scratch, "HL-0031.sheet.yaml");
        await File.WriteAllBytesAsync(one, Sounds.Wav(capture, 0, gap));
        await File.WriteAllBytesAsync(two, Sounds.Wav(capture, gap));
        await File.WriteAllBytesAsync(sheet, Sounds.Sheet("HL-0031"));
        ToolResult result = await Tool.StationdAsync("process", one, two, "--out", output, "--sheet", sheet, "--config", Folder.ConfigurationFile);
        Assert.True(result.ExitCode == 0, result.Error + result.Text);
        Assert.Equal(2, Directory.EnumerateFiles(Path.Combine(output, "listening"), "*.flac", SearchOption.AllDirectories).Count());
        Assert.Equal(2, Directory.EnumerateDirectories(Path.Combine(output, "archive", "HL-0031")).Count());
    }

    private async Task SheetAsync(string record, string title)
    {
        Folder.Drop(record + ".sheet.yaml", Sounds.Sheet(record, title));
        await station.Process.WaitForAsync("sheet taken for record " + record);
    }

    private JsonNode[] Published(string title) =>
        [.. JsonNode.Parse(File.ReadAllText(Folder.In("listening", "The Lantern Street Quintet", title, "record.json")))!["sides"]!.AsArray().Select(s => s!)];

    private IEnumerable<JsonNode> Records() =>
        Folder.Files("listening").Where(f => Path.GetFileName(f) == "record.json").Select(f => JsonNode.Parse(File.ReadAllText(f))!);

    private JsonNode[] Events(string record) => [.. File.ReadAllLines(Folder.In("archive", record, "events.jsonl")).Select(l => JsonNode.Parse(l)!)];

    private async Task AssertGivesBackAsync(string record, string label, byte[] content)
    {
        string output = Path.Combine(Folder.Scratch, label + ".back.wav");
        ToolResult restored = await Tool.StationdAsync("restore", Folder.In("archive", record, label), "-o", output);
        Assert.Equal((0, ""), (restored.ExitCode, restored.Error));
        Assert.Equal(content, await File.ReadAllBytesAsync(output));
    }

    public sealed class Station : IAsyncLifetime
    {
        internal StationFolder Folder { get; private set; } = null!;

        internal StationProcess Process { get; private set; } = null!;

        public async ValueTask InitializeAsync()
        {
            Folder = new StationFolder();
            Process = await StationProcess.StartAsync(Folder);
        }

        public async ValueTask DisposeAsync()
        {
            await Process.DisposeAsync();
            Folder.Dispose();
        }
    }
}
