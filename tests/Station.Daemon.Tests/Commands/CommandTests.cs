using System.Diagnostics;
using System.Security.Cryptography;
using System.Text.Json.Nodes;
using Station.Archive.Durability;
using Station.Audio.Findings;
using Station.Daemon.Jobs;
using Station.Daemon.Tests.Jobs.Support;
using Station.Daemon.Tests.Stages;
using Xunit;

namespace Station.Daemon.Tests.Commands;

/// <summary>
/// The command line as a process of its own: exit codes, what goes to which stream, what is left on the disk. Codes 0 to 4 are this
/// project's own; 64, 70, 75 and 78 are those of BSD's sysexits.h (from memory).
/// </summary>
public sealed class CommandTests : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("stationd-test-").FullName;

    public void Dispose() => TestStation.RemoveFolder(_folder);

    [Fact]
    public void A_good_side_is_processed_verified_and_given_back_bit_for_bit()
    {
        string capture = Write("HL-0031-A.wav", DemoSide.Wav);
        string sheet = Write("HL-0031.sheet.yaml", System.Text.Encoding.UTF8.GetBytes(DemoSide.Sheet));
        DateTime written = File.GetLastWriteTimeUtc(capture);
        Answer answer = Run("process", capture, "--out", At("out"), "--sheet", sheet, "--json");
        Assert.True(answer.Code == 0, answer.Errors);
        Assert.Equal("", answer.Errors);
        JsonNode report = JsonNode.Parse(answer.Output)!;
        Assert.Equal(("done", "accept"), ((string?)report["job"]!["state"], (string?)report["job"]!["verdict"]));

        // The file is untouched, and nothing but the three folders is left.
        Assert.Equal((DemoSide.Wav.Length, written), ((int)new FileInfo(capture).Length, File.GetLastWriteTimeUtc(capture)));
        Assert.Equal(["archive", "listening", "reports"], Directory.EnumerateFileSystemEntries(At("out")).Select(p => Path.GetFileName(p)).Order(StringComparer.Ordinal));
        Assert.All(report["outputs"]!.AsArray(), o =>
        {
            string path = Path.Combine(At("out"), (string)o!["path"]!);
            Assert.Equal((string?)o["sha256"], Convert.ToHexStringLower(SHA256.HashData(File.ReadAllBytes(path))));
            Assert.Matches((string?)o["role"] == "listening" ? @"^(flac [0-9.]+ -5|lame [0-9.]+ -V0)$" : "^$", (string?)o["encoder"] ?? "");
        });

        string bag = At("out/archive/HL-0031/HL-0031-A-c1");
        Assert.Equal((0, "1 bags checked, 0 not valid"), Told(Run("verify", At("out"))));
        Assert.Equal((0, "1 bags looked at by names and sizes, no digest compared; 0 damaged"), Told(Run("verify", bag, "--quick")));

        Answer restored = Run("restore", bag, "-o", At("back.wav"));
        Assert.Equal(0, restored.Code);
        Assert.Equal(DemoSide.Wav, File.ReadAllBytes(At("back.wav")));
        Assert.StartsWith(Convert.ToHexStringLower(SHA256.HashData(DemoSide.Wav)), restored.Output, StringComparison.Ordinal);
        Answer again = Run("restore", bag, "-o", At("back.wav"));
        Assert.Equal(70, again.Code);
        Assert.Contains("back.wav", again.Errors, StringComparison.Ordinal);
        OneLine(again.Errors);

        // The same again adds nothing.
        Assert.Equal(0, Run("process", capture, "--out", At("out"), "--sheet", sheet).Code);
        Assert.Equal(["HL-0031-A-c1"], Directory.EnumerateDirectories(At("out/archive/HL-0031")).Select(Path.GetFileName));
        Assert.Equal(6, TestStation.Tree(At("out/listening")).Count(f => f.EndsWith(".flac", StringComparison.Ordinal) || f.EndsWith(".mp3", StringComparison.Ordinal)));

        // One bit.
        string master = Path.Combine(bag, "data", "master.flac");
        File.SetUnixFileMode(master, UnixFileMode.UserRead | UnixFileMode.UserWrite);
        byte[] bytes = File.ReadAllBytes(master);
        bytes[bytes.Length / 2] ^= 1;
        File.WriteAllBytes(master, bytes);
        Answer damaged = Run("verify", At("out"));
        Assert.Equal(4, damaged.Code);
        Assert.Contains("data/master.flac", damaged.Output, StringComparison.Ordinal);
        Answer json = Run("verify", At("out"), "--json");
        VerifySchema.Holds(json.Output, "not-valid");
        VerifySchema.Holds(Run("verify", At("out"), "--quick", "--json").Output, "names-and-sizes-right");
        Assert.Equal((4, false), (json.Code, (bool)JsonNode.Parse(json.Output)!["valid"]!));
        Answer quick = Run("verify", At("out"), "--quick", "--json");      // names and sizes only: whether it is valid is not known
        Assert.Equal((0, null, "names-and-sizes-right"), (quick.Code, JsonNode.Parse(quick.Output)!["valid"], (string?)JsonNode.Parse(quick.Output)!["standing"]));
        Assert.Equal([0, 0, 4], new[] { "1/3", "2/3", "3/3" }.Select(part => Run("verify", At("out"), "--part", part).Code).Order());     // one bag: in one of the three parts
        Assert.NotEqual(0, Run("restore", bag, "-o", At("bad.wav")).Code);
        Assert.False(File.Exists(At("bad.wav")));
    }

    [Fact]
    public void A_bag_that_was_tampered_with_around_its_payload_is_named_and_never_passed_over()
    {
        string archive = At("archive");
        string bag = Path.Combine(archive, "HL-0031", "HL-0031-A-c1");
        void Fresh()
        {
            if (Directory.Exists(archive))
            {
                Directory.Delete(archive, recursive: true);
            }

            Directory.CreateDirectory(Path.Combine(bag, "data"));
            File.WriteAllText(Path.Combine(bag, "bagit.txt"), "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n");
            File.WriteAllText(Path.Combine(bag, "bag-info.txt"), "Bag-Software-Agent: stationd 1.0\n");
            List("manifest-sha256.txt", "data/original.json", "{}");
            List("tagmanifest-sha256.txt", "bagit.txt", "bag-info.txt", "manifest-sha256.txt");
        }

        void List(string name, params string[] files)
        {
            if (files is [var payload, "{}"])
            {
                File.WriteAllText(Path.Combine(bag, payload), "{}");
                files = [payload];
            }

            File.WriteAllText(Path.Combine(bag, name), string.Concat(files.Select(f => Convert.ToHexStringLower(SHA256.HashData(File.ReadAllBytes(Path.Combine(bag, f)))) + "  " + f + "\n")));
        }

        Fresh();
        Assert.Equal(0, Run("verify", archive).Code);
        foreach (string depth in new[] { "--full", "--quick" })
        {
            // RFC 8493 §2.1.1: the declaration is required; without it a folder must not be taken for no bag at all.
            Fresh();
            File.Delete(Path.Combine(bag, "bagit.txt"));
            Names(depth, "NOT VALID", "bagit.txt");

            // §2.2.4 allows further tag files; in a bag of this program's own there are none that no list names.
            Fresh();
            File.WriteAllText(Path.Combine(bag, "stray.txt"), "x");
            Names(depth, "CHANGED", "stray.txt");
            Answer json = Run("verify", archive, depth, "--json");
            VerifySchema.Holds(json.Output, "changed");
            Assert.Equal((false, "changed"), ((bool)JsonNode.Parse(json.Output)!["valid"]!, (string?)JsonNode.Parse(json.Output)!["standing"]));

            // Its lists gone, and what says whose it is.
            Fresh();
            File.Delete(Path.Combine(bag, "bag-info.txt"));
            File.Delete(Path.Combine(bag, "tagmanifest-sha256.txt"));
            Names(depth, "CHANGED", "tagmanifest-sha256.txt");

            // Nothing left of it but the folder.
            Directory.Delete(bag, recursive: true);
            Directory.CreateDirectory(bag);
            Names(depth, "NOT VALID", "bagit.txt");
        }

        // Others may add tag files (§2.2.4), and the file system's own folder is nobody's bag.
        Fresh();
        Directory.CreateDirectory(Path.Combine(archive, "lost+found", "HL-0099-A-c1"));
        File.WriteAllText(Path.Combine(bag, "bag-info.txt"), "Bag-Software-Agent: by hand\n");
        File.Delete(Path.Combine(bag, "data", "original.json"));
        File.WriteAllText(Path.Combine(bag, "data", "side.txt"), "x");
        List("manifest-sha256.txt", "data/side.txt");
        List("tagmanifest-sha256.txt", "bagit.txt", "bag-info.txt", "manifest-sha256.txt");
        File.WriteAllText(Path.Combine(bag, "notes.txt"), "x");
        VerifySchema.Holds(Run("verify", archive, "--json").Output, "valid");
        Answer foreign = Run("verify", archive);
        Assert.Equal((0, "1 bags checked, 0 not valid"), Told(foreign));
        Assert.Contains("note: notes.txt", foreign.Output, StringComparison.Ordinal);

        void Names(string depth, string standing, string file)
        {
            Answer answer = Run("verify", archive, depth);
            Assert.True(answer.Code == 4, answer.Output + answer.Errors);
            Assert.StartsWith(standing, answer.Output, StringComparison.Ordinal);
            Assert.Contains(file, answer.Output, StringComparison.Ordinal);
        }
    }

    [Fact]
    public void A_side_to_be_played_again_is_archived_and_not_published()
    {
        string capture = Write("HL-0031-A.wav", DemoSide.TooLoud);
        Answer answer = Run("process", capture, "--out", At("out"));
        Assert.True(answer.Code == 2, answer.Errors);
        Assert.Contains("retake", answer.Output, StringComparison.Ordinal);
        Assert.Contains("clipped-converter", answer.Output, StringComparison.Ordinal);
        Assert.True(File.Exists(At("out/archive/HL-0031/HL-0031-A-c1/data/master.flac")));
        Assert.Empty(TestStation.Tree(At("out/listening")));
        Assert.Single(TestStation.Tree(At("out/reports")), f => f.EndsWith(".json", StringComparison.Ordinal));
        Assert.True(File.Exists(capture));
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void From_its_bag_a_side_gives_the_same_copies_again_byte_for_byte(bool tooLoud)
    {
        string capture = Write("HL-0031-A.wav", tooLoud ? DemoSide.TooLoud : DemoSide.Wav);
        string sheet = Write("HL-0031.sheet.yaml", System.Text.Encoding.UTF8.GetBytes(DemoSide.Sheet));
        string config = Write("station.json", """{ "Listening": { "Formats": ["flac", "mp3", "opus", "ogg"] } }"""u8.ToArray());
        Assert.Equal(tooLoud ? 2 : 0, Run("process", capture, "--out", At("out"), "--sheet", sheet, "--config", config).Code);
        string bag = At("out/archive/HL-0031/HL-0031-A-c1");
        Answer first = Run("process", "--from-bag", bag, "--out", At("again"), "--config", config);
        Answer second = Run("process", "--from-bag", bag, "--out", At("and again"), "--config", config);
        Assert.True(first.Code == (tooLoud ? 2 : 0), first.Errors);
        Assert.Equal(first.Code, second.Code);
        string[] copies = TestStation.Tree(At("again/listening"));
        Assert.Equal(3 * 4, copies.Count(f => Path.GetExtension(f) is ".flac" or ".mp3" or ".opus" or ".ogg"));
        string[][] trees = [TestStation.Tree(At("and again/listening")), tooLoud ? copies : TestStation.Tree(At("out/listening"))];
        Assert.All(trees, tree => Assert.Equal(copies, tree));
        Assert.All(copies.Where(f => Path.GetFileName(f) != "record.json"), f =>
        {
            Assert.Equal(File.ReadAllBytes(At("again/listening/" + f)), File.ReadAllBytes(At("and again/listening/" + f)));
            Assert.True(tooLoud || File.ReadAllBytes(At("again/listening/" + f)).AsSpan().SequenceEqual(File.ReadAllBytes(At("out/listening/" + f))), f);
        });
        Assert.Equal(0, Run("verify", bag).Code);
    }

    [Fact]
    public void Inspecting_judges_and_writes_nothing()
    {
        string good = Write("HL-0031-A.wav", DemoSide.Wav);
        string sheet = Write("HL-0031.sheet.yaml", System.Text.Encoding.UTF8.GetBytes(DemoSide.Sheet));
        string loud = Write("HL-0031-B.wav", DemoSide.TooLoud);
        string[] before = TestStation.Tree(_folder);
        Answer accepted = Run("inspect", good, "--sheet", sheet, "--json");
        Assert.True(accepted.Code == 0, accepted.Errors);
        JsonNode document = JsonNode.Parse(accepted.Output)!;
        Assert.Equal(("inspected", Convert.ToHexStringLower(SHA256.HashData(DemoSide.Wav))), ((string?)document["job"]!["state"], (string?)document["capture"]!["sha256"]));
        Assert.False(document.AsObject().ContainsKey("outputs"));
        Assert.Equal(3, document["division"]!["tracks"]!.AsArray().Count);

        Answer retake = Run("inspect", loud);
        Assert.Equal(2, retake.Code);
        Assert.Contains("recording level: -", retake.Output, StringComparison.Ordinal);
        Assert.Equal(before, TestStation.Tree(_folder));
    }

    [Theory]
    [InlineData("inspect")]
    [InlineData("process")]
    public void What_is_no_sound_is_refused_in_one_line(string command)
    {
        string capture = Write("HL-0031-A.wav", "no sound"u8.ToArray());
        Answer answer = command == "inspect" ? Run("inspect", capture) : Run("process", capture, "--out", At("out"));
        Assert.Equal(3, answer.Code);
        Assert.Contains("HL-0031-A.wav", answer.Output + answer.Errors, StringComparison.Ordinal);
        Assert.True(File.Exists(capture));
    }

    [Fact]
    public void A_refused_file_is_told_in_its_parts_to_people_and_scripts()
    {
        string capture = Write("HL-0031-A.wav", WaveFile.Make(WaveFile.Pcm, 2, 8000, 16, new byte[400]));
        Answer plain = Run("inspect", capture);
        Assert.Equal((3, ""), (plain.Code, plain.Output));
        Assert.StartsWith("HL-0031-A.wav: byte 22: expected 22050 to 192000 Hz, found 8000 Hz. ", plain.Errors, StringComparison.Ordinal);
        OneLine(plain.Errors);

        Answer scripted = Run("inspect", capture, "--json");
        Assert.Equal((3, plain.Errors), (scripted.Code, scripted.Errors));
        JsonNode document = JsonNode.Parse(scripted.Output)!;
        Assert.Equal(("refused", "HL-0031-A.wav"), ((string?)document["job"]!["state"], (string?)document["capture"]!["file"]));
        Assert.Equal(plain.Errors.TrimEnd(), (string?)document["job"]!["reason"]);
        JsonNode refusal = document["capture"]!["refusal"]!;
        Assert.Equal((22, "22050 to 192000 Hz", "8000 Hz"), ((int)refusal["byteOffset"]!, (string?)refusal["expected"], (string?)refusal["found"]));
        Assert.NotEmpty((string)refusal["advice"]!);
    }

    [Fact]
    public void Of_several_files_the_worst_decides()
    {
        string good = Write("HL-0031-A.wav", WaveFile.Make(WaveFile.Pcm, 2, 44_100, 16, WaveFile.Sound(WaveFile.Pcm, 16, 44_100, seed: 1)));
        string bad = Write("HL-0031-B.wav", "no sound"u8.ToArray());
        Assert.Equal(3, Run("process", good, bad, "--out", At("out")).Code);
        Assert.True(Directory.Exists(At("out/archive/HL-0031/HL-0031-A-c1")));
        Answer unnamed = Run("process", Write("holiday.mkv", [1]), "--out", At("out"));
        Assert.Equal(3, unnamed.Code);
        OneLine(unnamed.Errors);
    }

    public static TheoryData<int, string[]> Wrong() => new()
    {
        { 64, ["inspect"] },
        { 64, ["nonsense"] },
        { 64, ["process", "x.wav"] },
        { 64, ["verify", "/nowhere"] },
        { 64, ["inspect", "/nowhere/HL-0031-A.wav", "--sheet", "/nowhere/sheet.yaml"] },
        { 70, ["inspect", "/nowhere/HL-0031-A.wav"] },
        { 70, ["restore", "/nowhere", "-o", "/nowhere/x.wav"] },
        { 78, ["inspect", "x.wav", "--config", "/nowhere/station.json"] },
        { 64, ["verify", "/nowhere", "--quick", "--full"] },
        { 64, ["verify", "/nowhere", "--part", "8/7"] },
        { 64, ["replica", "prepare", "attic", "--station", "/nowhere/station"] },
        { 78, ["verify"] },
        { 64, ["accept", "HL-0031-A-c1", "--why", "x", "--station", "/nowhere/station"] },
        { 64, ["accept", "HL-0031-A-c1", "--station", "/nowhere/station"] },
    };

    [Theory, MemberData(nameof(Wrong))]
    public void What_cannot_be_done_is_said_without_a_stack_trace(int code, string[] arguments)
    {
        Answer answer = Run(arguments);
        Assert.Equal(code, answer.Code);
        Assert.NotEqual("", answer.Errors);
        Assert.DoesNotContain("   at ", answer.Errors, StringComparison.Ordinal);
        Assert.Equal("", answer.Output);
    }

    [Fact]
    public void A_configuration_is_checked_with_every_problem_and_its_line()
    {
        string bad = Write("station.json", "{\n  \"Jobs\": { \"Paralel\": 2 },\n  \"Logs\": {}\n}\n"u8.ToArray());
        Answer answer = Run("config", "check", "--config", bad, "--station", At("station"));
        Assert.Equal(78, answer.Code);
        string[] lines = answer.Errors.TrimEnd().Split('\n');
        Assert.Equal(2, lines.Length);
        Assert.Contains("line 2", lines[0], StringComparison.Ordinal);
        Assert.Contains("line 3", lines[1], StringComparison.Ordinal);
        Assert.Equal(0, Run("config", "check", "--config", Repository.File("config/station.json"), "--station", At("station")).Code);
        Assert.False(Directory.Exists(At("station")));
    }

    [Fact]
    public async Task The_operators_commands_work_under_the_lock_when_no_service_runs()
    {
        using var station = new TestStation();
        await station.DropAsync("HL-0031-A.wav", "HL-0031", "A", [1, 2, 3]);
        await station.DropAsync("HL-0031-B.wav", "HL-0031", "B", [4, 5, 6]);
        for (int n = 0; n < 2; n++)
        {
            await station.Runner(new FakePipeline(station, Verdict.Retake).Stages).RunAsync((await station.ClaimAsync())!, CancellationToken.None);
        }

        string root = station.Folders.Root;
        using (InstanceLock? held = InstanceLock.TryAcquire(station.Folders.LockFile, "somebody else", out _))
        {
            Assert.NotNull(held);
            Answer busy = Run("accept", "HL-0031-A-c1", "--why", "x", "--station", root);
            Assert.Equal(75, busy.Code);
            Assert.Contains("somebody else", busy.Errors, StringComparison.Ordinal);
        }

        Assert.Equal(0, Run("accept", "hl-0031-a-c1", "--why", "the only copy", "--station", root + "/").Code);
        Job accepted = (await station.Store.JobByLabelAsync("HL-0031-A-c1", CancellationToken.None))!;
        Assert.Equal((JobState.Queued, "the only copy"), (accepted.State, accepted.AcceptedWhy));
        Answer twice = Run("accept", "HL-0031-A-c1", "--why", "again", "--station", root);
        Assert.Equal(70, twice.Code);
        OneLine(twice.Errors);
        Assert.Equal(0, Run("discard", "HL-0031-B-c1", "--station", root).Code);
        Assert.True(File.Exists(Path.Combine(station.Folders.Discarded, "HL-0031-B-c1", "HL-0031-B.wav")));
        Assert.Equal(70, Run("retry", "HL-0031-C-c1", "--station", root).Code);
    }

    [Fact]
    public void A_demonstration_side_is_put_down_whole_with_a_sheet_that_reads()
    {
        Answer answer = Run("demo", "--into", At("inbox"), "--length", "Seconds", "--side", "B");
        Assert.True(answer.Code == 0, answer.Errors);
        Assert.Equal(["HL-0031-B.wav", "HL-0031.sheet.yaml"], TestStation.Tree(At("inbox")));
        Answer inspected = Run("inspect", At("inbox/HL-0031-B.wav"), "--sheet", At("inbox/HL-0031.sheet.yaml"));
        Assert.True(inspected.Code == 0, inspected.Output + inspected.Errors);
        Assert.Equal(70, Run("demo", "--into", At("inbox"), "--length", "Seconds", "--side", "B").Code);     // never over an earlier one
    }

    private static (int Code, string LastLine) Told(Answer answer) => (answer.Code, answer.Output.TrimEnd().Split('\n')[^1]);

    private static void OneLine(string text) => Assert.DoesNotContain('\n', text.TrimEnd('\n'));

    private string At(string name) => Path.Combine(_folder, name);

    private string Write(string name, byte[] content)
    {
        File.WriteAllBytes(At(name), content);
        return At(name);
    }

    private Answer Run(params string[] arguments)
    {
        using Process process = Process.Start(new ProcessStartInfo(Path.Combine(AppContext.BaseDirectory, "stationd"), arguments)
        {
            UseShellExecute = false,
            RedirectStandardOutput = true,
            RedirectStandardError = true,
            WorkingDirectory = _folder,
        })!;
        Task<string> errors = process.StandardError.ReadToEndAsync(TestContext.Current.CancellationToken);
        string output = process.StandardOutput.ReadToEnd();
        process.WaitForExit();
        return new Answer(process.ExitCode, output, errors.GetAwaiter().GetResult());
    }

    private sealed record Answer(int Code, string Output, string Errors);
}
