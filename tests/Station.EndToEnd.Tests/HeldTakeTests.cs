using System.Globalization;
using System.Text.Json.Nodes;
using Station.EndToEnd.Tests.Harness;
using Xunit;

namespace Station.EndToEnd.Tests;

/// <summary>Takes that need a person, and takes after takes. One station, one record for each test.</summary>
public sealed class HeldTakeTests(HeldTakeTests.Station station) : IClassFixture<HeldTakeTests.Station>
{
    private StationFolder Folder => station.Folder;

    [Fact]
    public async Task A_clipped_side_is_held_nothing_is_published_and_a_signed_alert_says_what_to_do()
    {
        await HoldAsync("HL-0040", Sounds.Clipped());
        ReceivedAlert alert = await station.Alerts.NextAsync(a => (string?)a.Data["capture"] == "HL-0040-A-c1");

        Assert.True(AlertListener.IsSigned(alert), "the signature does not fit");
        Assert.DoesNotContain('.', alert.Id);      // Standard Webhooks 1.0.0 (confirmed): a full stop would make the signed text ambiguous
        Assert.Equal("take.retake", alert.Type);
        DateTimeOffset sent = DateTimeOffset.FromUnixTimeSeconds(long.Parse(alert.Timestamp, CultureInfo.InvariantCulture));
        Assert.InRange((TimeProvider.System.GetUtcNow() - sent).Duration(), TimeSpan.Zero, TimeSpan.FromMinutes(5));     // usual tolerance of receivers (common practice, no source)
        Assert.InRange((double)alert.Data["recommendedChangeDb"]!, -30, -6);
        Assert.Contains(alert.Data["findings"]!.AsArray(), f => (string?)f!["code"] == "clipped-converter");

        Assert.Equal(Sounds.Clipped().Wav, await File.ReadAllBytesAsync(Folder.In("held", "HL-0040-A-c1", "HL-0040-A.wav")));
        Assert.True(new FileInfo(Folder.In("held", "HL-0040-A-c1", "picture.svg")).Length > 0);
        string reason = (await File.ReadAllTextAsync(Folder.In("held", "HL-0040-A-c1", "reason.txt"))).TrimEnd('\n');
        Assert.DoesNotContain('\n', reason);
        Assert.Equal((string?)Folder.Report("HL-0040-A-c1")["job"]!["reason"], reason);
        Assert.EndsWith(reason, (string?)alert.Data["subject"], StringComparison.Ordinal);
        Assert.Empty(Directory.EnumerateDirectories(Folder.In("archive", "HL-0040")));      // the sheet is in its events, no bag
        Assert.Empty(Listed("HL-0040"));
        ReportSchema.AssertValid(Folder.ReportPath("HL-0040-A-c1"));
        ReportSchema.AssertValid(Folder.In("held", "HL-0040-A-c1", "report.json"));
        JsonNode report = Folder.Report("HL-0040-A-c1");
        Assert.Equal(("held", "retake"), ((string)report["job"]!["state"]!, (string)report["job"]!["verdict"]!));
    }

    [Fact]
    public async Task An_accepted_held_take_is_archived_and_published_with_the_reason_kept()
    {
        await HoldAsync("HL-0041", Sounds.Clipped(2));

        ToolResult accepted = await Tool.StationdAsync("accept", "HL-0041-A-c1", "--why", "the only copy, it clips like that", "--station", Folder.Root);
        await station.Process.WaitForDoneAsync("HL-0041-A-c1");
        ToolResult again = await Tool.StationdAsync("accept", "HL-0041-A-c1", "--why", "twice", "--station", Folder.Root);

        Assert.Equal((0, ""), (accepted.ExitCode, accepted.Error));
        Assert.NotEqual(0, again.ExitCode);
        Assert.Single(again.Error.Trim().Split('\n'));
        Assert.False(Directory.Exists(Folder.In("held", "HL-0041-A-c1")));
        Assert.Equal(4, Listed("HL-0041").Length);
        await AssertGivesBackAsync("HL-0041", "HL-0041-A-c1", Sounds.Clipped(2));
        JsonNode told = Assert.Single(Events("HL-0041"), e => (string?)e["type"] == "take accepted");
        Assert.Equal("the only copy, it clips like that", (string?)told["reason"]);
        ReportSchema.AssertValid(Folder.ReportPath("HL-0041-A-c1"));
        Assert.Equal("done", (string?)Folder.Report("HL-0041-A-c1")["job"]!["state"]);
    }

    [Fact]
    public async Task A_discarded_take_is_set_aside_whole_and_can_not_be_accepted_any_more()
    {
        await HoldAsync("HL-0042", Sounds.Clipped(3));

        ToolResult discarded = await Tool.StationdAsync("discard", "HL-0042-A-c1", "--why", "needle was dirty", "--station", Folder.Root);
        ToolResult accepted = await Tool.StationdAsync("accept", "HL-0042-A-c1", "--why", "no, keep it", "--station", Folder.Root);

        Assert.Equal((0, ""), (discarded.ExitCode, discarded.Error));
        Assert.NotEqual(0, accepted.ExitCode);
        Assert.Equal(Sounds.Clipped(3).Wav, await File.ReadAllBytesAsync(Folder.In("held", "discarded", "HL-0042-A-c1", "HL-0042-A.wav")));
        Assert.False(Directory.Exists(Folder.In("held", "HL-0042-A-c1")));
        Assert.Equal("discarded", await StateAsync("HL-0042-A-c1"));
        Assert.Empty(Listed("HL-0042"));
    }

    [Fact]
    public async Task A_good_second_take_is_published_and_supersedes_the_held_one_which_stays()
    {
        await HoldAsync("HL-0043", Sounds.Clipped(4));
        Folder.Drop("HL-0043-A.wav", Sounds.Clean(4).Wav);
        await station.Process.WaitForDoneAsync("HL-0043-A-c2");

        Assert.Equal("superseded", await StateAsync("HL-0043-A-c1"));
        Assert.Equal(Sounds.Clipped(4).Wav, await File.ReadAllBytesAsync(Folder.In("held", "HL-0043-A-c1", "HL-0043-A.wav")));
        await AssertGivesBackAsync("HL-0043", "HL-0043-A-c2", Sounds.Clean(4));
        Assert.Equal(4, Listed("HL-0043").Length);
    }

    [Fact]
    public async Task A_second_good_take_replaces_the_listening_copies_and_both_masters_are_kept()
    {
        Folder.Drop("HL-0044.sheet.yaml", Sounds.Sheet("HL-0044", "Second Thoughts"));
        Folder.Drop("HL-0044-A.wav", Sounds.Clean(5).Wav);
        await station.Process.WaitForDoneAsync("HL-0044-A-c1");
        string[] before = Listed("HL-0044");
        Folder.Drop("HL-0044-A.wav", Sounds.Clean(6).Wav);
        await station.Process.WaitForDoneAsync("HL-0044-A-c2");

        string folder = Folder.In("listening", "The Lantern Street Quintet", "Second Thoughts");
        Assert.Equal(7, Directory.EnumerateFileSystemEntries(folder).Count());        // two tracks and a playlist in two formats, and record.json
        Assert.Empty(before.Intersect(Listed("HL-0044"), StringComparer.Ordinal));
        await AssertGivesBackAsync("HL-0044", "HL-0044-A-c1", Sounds.Clean(5));
        await AssertGivesBackAsync("HL-0044", "HL-0044-A-c2", Sounds.Clean(6));
    }

    [Fact]
    public async Task The_same_bytes_dropped_again_add_nothing()
    {
        Folder.Drop("HL-0045-A.wav", Sounds.Clean(7).Wav);
        await station.Process.WaitForDoneAsync("HL-0045-A-c1");
        Folder.Drop("HL-0045-A.wav", Sounds.Clean(7).Wav);
        await station.Process.WaitForAsync("HL-0045-A-c2: nothing new");

        Assert.Equal(["HL-0045-A-c1"], Directory.EnumerateDirectories(Folder.In("archive", "HL-0045")).Select(f => Path.GetFileName(f)));
        Assert.Equal(4, Listed("HL-0045").Length);
        Assert.Equal("duplicate", await StateAsync("HL-0045-A-c2"));
        Assert.False(File.Exists(Folder.In("inbox", "HL-0045-A.wav")));
        ReportSchema.AssertValid(Folder.ReportPath("HL-0045-A-c2"));
    }

    [Fact]
    public async Task Without_a_sheet_a_side_is_filed_under_its_number_and_the_take_after_the_sheet_under_its_title()
    {
        Folder.Drop("HL-0046-B.wav", Sounds.Clean(8).Wav);
        await station.Process.WaitForDoneAsync("HL-0046-B-c1");
        Assert.Equal(["B-01.flac", "B-01.mp3", "B-02.flac", "B-02.mp3"], Listed("HL-0046").Select(l => l.Split(' ')[^1]).Order(StringComparer.Ordinal));

        Folder.Drop("HL-0046.sheet.yaml", Sounds.Sheet("HL-0046", "Late Paper"));
        await station.Process.WaitForAsync("sheet taken for record HL-0046");
        Folder.Drop("HL-0046-B.wav", Sounds.Clean(9).Wav);
        await station.Process.WaitForDoneAsync("HL-0046-B-c2");

        Assert.Equal(
            ["03 The Long Ebb.flac", "03 The Long Ebb.mp3", "04 Neap.flac", "04 Neap.mp3", "Late Paper (flac).m3u8", "Late Paper (mp3).m3u8", "record.json"],
            Directory.EnumerateFileSystemEntries(Folder.In("listening", "The Lantern Street Quintet", "Late Paper")).Select(f => Path.GetFileName(f)).Order(StringComparer.Ordinal));
        Assert.False(Directory.Exists(Folder.In("listening", "HL-0046")));
    }

    private async Task HoldAsync(string record, Sound sound)
    {
        Folder.Drop(record + ".sheet.yaml", Sounds.Sheet(record, "Tides of " + record));
        Folder.Drop(record + "-A.wav", sound.Wav);
        await station.Process.WaitForAsync(record + "-A-c1: held");
    }

    private async Task AssertGivesBackAsync(string record, string label, Sound sound)
    {
        string output = Path.Combine(Folder.Scratch, label + ".wav");
        ToolResult restored = await Tool.StationdAsync("restore", Folder.In("archive", record, label), "-o", output);
        Assert.Equal((0, ""), (restored.ExitCode, restored.Error));
        Assert.Equal(sound.Wav, await File.ReadAllBytesAsync(output));
    }

    private async Task<string> StateAsync(string label)
    {
        using var http = new HttpClient { BaseAddress = await station.Process.AddressAsync() };
        return (string)JsonNode.Parse(await http.GetStringAsync(new Uri($"/api/v1/jobs/{label}", UriKind.Relative)))!["state"]!;
    }

    /// <summary>What record.json files list for a record: digest and name.</summary>
    private string[] Listed(string record) =>
    [
        .. Folder.Files("listening").Where(f => Path.GetFileName(f) == "record.json").Select(f => JsonNode.Parse(File.ReadAllText(f))!)
            .Where(r => (string?)r["record"] == record)
            .SelectMany(r => r["sides"]!.AsArray()).SelectMany(s => s!["tracks"]!.AsArray()).SelectMany(t => t!["files"]!.AsArray())
            .Select(f => $"{(string)f!["sha256"]!} {(string)f["file"]!}"),
    ];

    private JsonNode[] Events(string record) => [.. File.ReadAllLines(Folder.In("archive", record, "events.jsonl")).Select(l => JsonNode.Parse(l)!)];

    public sealed class Station : IAsyncLifetime
    {
        internal StationFolder Folder { get; private set; } = null!;

        internal AlertListener Alerts { get; private set; } = null!;

        internal StationProcess Process { get; private set; } = null!;

        public async ValueTask InitializeAsync()
        {
            Alerts = await AlertListener.StartAsync();
            string secret = Path.Combine(Directory.CreateTempSubdirectory("key").FullName, "secret");
            Folder = new StationFolder(configuration => Alerts.Configure(configuration, secret));
            Process = await StationProcess.StartAsync(Folder);
            _secretFolder = Path.GetDirectoryName(secret)!;
        }

        private string _secretFolder = "";

        public async ValueTask DisposeAsync()
        {
            await Process.DisposeAsync();
            await Alerts.DisposeAsync();
            Folder.Dispose();
            Directory.Delete(_secretFolder, recursive: true);
        }
    }
}
