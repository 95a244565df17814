using System.Text;
using System.Text.Json.Nodes;
using System.Text.RegularExpressions;
using Station.EndToEnd.Tests.Harness;
using Xunit;

namespace Station.EndToEnd.Tests;

/// <summary>What people, programs and ill will can lay into the inbox. One station for all.</summary>
public sealed partial class InboxTests(InboxTests.Station station) : IClassFixture<InboxTests.Station>
{
    private StationFolder Folder => station.Folder;

    [Fact]
    public async Task A_text_named_wav_is_refused_whole_with_the_reason()
    {
        byte[] text = Encoding.UTF8.GetBytes("Dear station, this is no sound at all.\n" + new string('x', 5000));
        Folder.Drop("HL-0050-A.wav", text);
        await station.Process.WaitForAsync("HL-0050-A.wav: refused");

        Assert.Equal(text, await File.ReadAllBytesAsync(Folder.In("refused", "HL-0050-A.wav")));
        string reason = await File.ReadAllTextAsync(Folder.In("refused", "HL-0050-A.wav.reason.txt"));
        Assert.StartsWith("HL-0050-A.wav", reason, StringComparison.Ordinal);
        Assert.Single(reason.TrimEnd('\n').Split('\n'));
        ReportSchema.AssertValid(Folder.ReportPath("HL-0050-A-c1"));
        Assert.Equal("refused", (string?)Folder.Report("HL-0050-A-c1")["job"]!["state"]);
    }

    [Fact]
    public async Task An_empty_file_is_set_aside_with_the_reason()
    {
        Folder.Drop("HL-0051-A.wav", []);
        await station.Process.WaitForAsync("HL-0051-A.wav: refused");

        Assert.Empty(await File.ReadAllBytesAsync(Folder.In("refused", "HL-0051-A.wav")));
        Assert.NotEmpty(await File.ReadAllTextAsync(Folder.In("refused", "HL-0051-A.wav.reason.txt")));
    }

    [Fact]
    public async Task A_cut_off_capture_is_archived_waits_for_a_decision_and_is_given_back_as_cut_off_as_it_came()
    {
        byte[] cut = Sounds.Clean().Wav[..^50_001];       // in the run-out, in the middle of a frame
        Folder.Drop("HL-0052.sheet.yaml", Sounds.Sheet("HL-0052", "Cut Short"));
        Folder.Drop("HL-0052-A.wav", cut);
        await station.Process.WaitForAsync("HL-0052-A-c1: held");

        JsonNode report = Folder.Report("HL-0052-A-c1");
        Assert.Equal(("held", "review"), ((string)report["job"]!["state"]!, (string)report["job"]!["verdict"]!));
        Assert.Contains(report["findings"]!.AsArray(), f => (string?)f!["code"] == "file-truncated");
        Assert.NotEmpty(report["capture"]!["repairs"]!.AsArray());
        ReportSchema.AssertValid(Folder.ReportPath("HL-0052-A-c1"));
        string output = Path.Combine(Folder.Scratch, "cut.wav");
        ToolResult restored = await Tool.StationdAsync("restore", Folder.In("archive", "HL-0052", "HL-0052-A-c1"), "-o", output);
        Assert.Equal((0, ""), (restored.ExitCode, restored.Error));
        Assert.Equal(cut, await File.ReadAllBytesAsync(output));
    }

    [Fact]
    public async Task Twenty_four_bits_at_ninety_six_kilohertz_and_a_flac_come_back_as_dropped()
    {
        Sound wide = Sounds.Clean(3, 24, 96_000);
        Folder.Drop("HL-0053.sheet.yaml", Sounds.Sheet("HL-0053", "Wide Water"));
        Folder.Drop("HL-0053-A.wav", wide.Wav);
        string flac = Path.Combine(Folder.Scratch, "b.flac");
        string wav = Path.Combine(Folder.Scratch, "b.wav");
        await File.WriteAllBytesAsync(wav, wide.Wav);
        await Tool.MustRunAsync("flac", ["--silent", "-o", flac, wav]);
        byte[] coded = await File.ReadAllBytesAsync(flac);
        Folder.Drop("HL-0053-B.flac", coded);
        await station.Process.WaitForDoneAsync("HL-0053-A-c1");
        await station.Process.WaitForDoneAsync("HL-0053-B-c1");

        foreach ((string label, byte[] dropped) in new[] { ("HL-0053-A-c1", wide.Wav), ("HL-0053-B-c1", coded) })
        {
            string output = Path.Combine(Folder.Scratch, label);
            ToolResult restored = await Tool.StationdAsync("restore", Folder.In("archive", "HL-0053", label), "-o", output);
            Assert.Equal((0, ""), (restored.ExitCode, restored.Error));
            Assert.Equal(dropped, await File.ReadAllBytesAsync(output));
        }

        // Both sides were cut from the same samples.
        JsonNode track = Folder.Report("HL-0053-B-c1")["division"]!["tracks"]![0]!;
        long first = (long)Math.Round((double)track["startSeconds"]! * wide.SampleRateHz);
        long end = (long)Math.Round((double)track["endSeconds"]! * wide.SampleRateHz);
        byte[] copy = await Tool.DecodeAsync(Folder.In("listening", "The Lantern Street Quintet", "Wide Water", "03 The Long Ebb.flac"), "s24le");
        Assert.True(wide.Words(first, end).SequenceEqual(copy), "other samples than in the dropped file");
    }

    public static TheoryData<string> HostileNames => new()
    {
        "HL-0054\nforged: line-A.wav",
        "HL-0054\u001b[2Jx-A.wav",
        "'\"; touch pwned; '-A.wav",
        "$(touch pwned)-A.wav",
        "-rf-A.wav",
        "--help.wav",
        "HL\u202e45vaw-A.wav",
        "a..%2f..%2fescape-A.wav",
        "a\\..\\..\\escape-A.wav",
        "NUL-A.wav",
        "<script>alert(1)</script>-A.wav".Replace("/", "\u2044", StringComparison.Ordinal),
        new string('a', 196) + ".wav",
        new string('\u00e4', 122) + ".wav",     // 248 bytes; its reason's name would be longer than the 255 bytes file systems allow
        new string('z', 255),
    };

    [Theory]
    [MemberData(nameof(HostileNames))]
    public async Task A_hostile_name_is_set_aside_without_harm(string name)
    {
        byte[] content = Sounds.Clean(20).Wav[..200_000];
        string path = Folder.Drop(name, content);

        // The name can't be waited for in the log, which shows it made harmless; a file behind it in the same inbox can.
        await PassAsync();

        Assert.False(File.Exists(path), "still in the inbox:\n" + string.Join('\n', station.Process.Lines.TakeLast(5)));
        string[] kept = [.. Folder.Files("refused").Concat(Folder.Files("held")).Concat(Folder.Files("working")).Where(f => new FileInfo(f).Length == content.Length)];
        string sha256 = Tool.Sha256(content);
        Assert.Contains(kept, f => Tool.Sha256OfFile(f) == sha256);
        Assert.Empty(Directory.EnumerateFileSystemEntries(Folder.Scratch, "pwned", SearchOption.AllDirectories));
        Assert.Empty(Directory.EnumerateFileSystemEntries(Folder.Scratch, "escape*", SearchOption.AllDirectories));
        Assert.All(station.Process.Lines, line => Assert.Matches(LogLine(), line));
    }

    [Fact]
    public async Task The_longest_name_a_record_may_have_is_taken_in()
    {
        string record = new('\u6f6e', 64);       // 192 bytes of UTF-8
        Folder.Drop(record + ".sheet.yaml", Sounds.Sheet(record, new string('\u6f6e', 200)));
        Folder.Drop(record + "-A.wav", Sounds.Clean(21).Wav);
        await station.Process.WaitForDoneAsync(record + "-A-c1");

        ReportSchema.AssertValid(Folder.ReportPath(record + "-A-c1"));
        Assert.Equal(6, Folder.Files("listening").Count(f => f.Contains('\u6f6e', StringComparison.Ordinal) && Path.GetFileName(f) != "record.json"));
    }

    [Fact]
    public async Task Links_pipes_folders_and_unfinished_files_are_left_alone_and_a_name_that_is_no_text_is_set_aside_each_mentioned_once()
    {
        string outside = Path.Combine(Folder.Scratch, "outside.wav");
        await File.WriteAllBytesAsync(outside, Sounds.Clean().Wav);
        string link = Path.Combine(Folder.Inbox, "HL-0060-A.wav");
        string dangling = Path.Combine(Folder.Inbox, "HL-0061-A.wav");
        string pipe = Path.Combine(Folder.Inbox, "HL-0062-A.wav");
        string folder = Path.Combine(Folder.Inbox, "HL-0063-A.wav");
        string unfinished = Path.Combine(Folder.Inbox, "HL-0064-A.wav.part");
        File.CreateSymbolicLink(link, outside);
        File.CreateSymbolicLink(dangling, Path.Combine(Folder.Scratch, "nowhere.wav"));
        Tool.MakeFifo(pipe);
        Directory.CreateDirectory(folder);
        await File.WriteAllBytesAsync(unfinished, [1, 2, 3]);
        await Tool.MustRunAsync("bash", ["-c", "printf x > \"$1\"/$'HL-0065\\xff-A.wav'", "-", Folder.Inbox]);

        try
        {
            await PassAsync();
            await PassAsync();

            Assert.Equal(outside, new FileInfo(link).LinkTarget);
            Assert.NotNull(new FileInfo(dangling).LinkTarget);
            Assert.True(Path.Exists(pipe));
            Assert.True(Directory.Exists(folder));
            Assert.Equal([1, 2, 3], await File.ReadAllBytesAsync(unfinished));
            Assert.Equal(Sounds.Clean().Sha256, Tool.Sha256OfFile(outside));
            Assert.Equal("x", await File.ReadAllTextAsync(Folder.In("refused", "HL-0065%FF-A.wav")));
            Assert.Contains("not valid UTF-8", await File.ReadAllTextAsync(Folder.In("refused", "HL-0065%FF-A.wav.reason.txt")), StringComparison.Ordinal);
            foreach (string name in new[] { "HL-0060", "HL-0061", "HL-0062", "HL-0063", "HL-0065" })
            {
                Assert.Single(station.Process.Lines, l => l.Contains(name, StringComparison.Ordinal));
            }
        }
        finally
        {
            // The platform's own calls can't name a file whose name is no UTF-8, should it be there still.
            await Tool.MustRunAsync("bash", ["-c", "rm -rf \"$1\"/HL-006[0-5]*", "-", Folder.Inbox]);
        }
    }

    [Fact]
    public async Task A_file_that_still_grows_is_not_taken()
    {
        byte[] wav = Sounds.Clean(22).Wav;
        string path = Path.Combine(Folder.Inbox, "HL-0066-A.wav");
        await using (FileStream writing = new(path, FileMode.Create, FileAccess.Write, FileShare.ReadWrite))
        {
            // Each piece is written once the service has looked at the inbox again, for longer than the quiet time in all.
            for (int at = 0; at < wav.Length; at += 400_000)
            {
                await writing.WriteAsync(wav.AsMemory(at, Math.Min(400_000, wav.Length - at)));
                await writing.FlushAsync();
                Assert.True(File.Exists(path), "taken while it grew");
                await Task.Delay(TimeSpan.FromMilliseconds(100), TimeProvider.System);
            }
        }

        await station.Process.WaitForAsync("HL-0066-A-c1: done");
        JsonNode report = Folder.Report("HL-0066-A-c1");
        Assert.Equal(Sounds.Clean(22).Sha256, (string?)report["capture"]!["sha256"]);
    }

    [Fact]
    public async Task A_sheet_with_mistakes_is_refused_with_every_mistake_by_line()
    {
        Folder.Drop("HL-0067.sheet.yaml", "record: HL-0067\nartist: [\n"u8);
        Folder.Drop("HL-0068.sheet.yaml", "record: HL-0068\nyear: soon\nspeeed: 33\n"u8);
        await station.Process.WaitForAsync("HL-0067.sheet.yaml: refused");
        await station.Process.WaitForAsync("HL-0068.sheet.yaml: refused");

        string[] reasons = await File.ReadAllLinesAsync(Folder.In("refused", "HL-0068.sheet.yaml.reason.txt"));
        Assert.Contains(reasons, r => r.Contains("year", StringComparison.Ordinal) && r.Contains('2', StringComparison.Ordinal));
        Assert.Contains(reasons, r => r.Contains("speeed", StringComparison.Ordinal) && r.Contains('3', StringComparison.Ordinal));
    }

    /// <summary>Waits until a file that was dropped now has been looked at twice and set aside: everything dropped before has been, too.</summary>
    private async Task PassAsync()
    {
        string name = $"\u9f98-{Interlocked.Increment(ref _passes)}.txt";        // sorts behind every name dropped here
        Folder.Drop(name, "."u8);
        await station.Process.WaitForAsync(name + ": refused");
    }

    private static int _passes;

    [GeneratedRegex(@"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z (DBG|INF|WRN|ERR) [^\p{Cc}\p{Cf}]+$")]
    private static partial Regex LogLine();

    public sealed class Station : IAsyncLifetime
    {
        internal StationFolder Folder { get; } = new();

        internal StationProcess Process { get; private set; } = null!;

        public async ValueTask InitializeAsync() => Process = await StationProcess.StartAsync(Folder);

        public async ValueTask DisposeAsync()
        {
            await Process.DisposeAsync();
            Folder.Dispose();
        }
    }
}
