using System.Text;
using Station.Archive.Bags;
using Station.Archive.Durability;
using Station.Archive.Tests.Support;

namespace Station.Archive.Tests.Bags;

public sealed class BagWriterTests : IDisposable
{
    private readonly TempFolder _folder = new();

    private string Bag => _folder["bag"];

    private string Staging => DurableFile.StagingPathFor(Bag);

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void A_written_bag_checks_without_fault_or_remark()
    {
        string bag = SampleBag.Publish(_folder);
        foreach (BagDepth depth in Enum.GetValues<BagDepth>())
        {
            BagCheck check = BagReader.Check(bag, depth);
            Assert.Equal([], check.Faults);
            Assert.Equal([], check.Warnings);
            Assert.True(check.IsPristine);
            Assert.Equal(4, check.PayloadFiles);
            Assert.Equal(3000 + 44 + 21 + 7, check.PayloadBytes);
        }

        Assert.Equal(["HL-0031-A-c1"], _folder.Names);
    }

    // RFC 8493 §2.1.3, §2.4: a bag may have several manifests, each of all payload files (second-hand). sha512sum of GNU coreutils is the judge from outside.
    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void With_SHA_512_asked_for_both_manifests_are_written_and_right(bool link)
    {
        string source = _folder["source.flac"];
        File.WriteAllBytes(source, [.. Enumerable.Range(0, 3_000_000).Select(n => (byte)(n * 31))]);
        BagWriter.Stage(
            Staging,
            [
                BagFile.FromFile("master.flac", source, Station.Archive.Fixity.FileDigest.Sha256(source), mayLink: link), BagFile.FromFileRange("head.bin", source, 7, 1000),
                BagFile.FromBytes("a b%.json", "{}"u8.ToArray()),
            ],
            [BagFile.FromBytes("README.txt", "music"u8.ToArray())], SampleBag.Info, CancellationToken.None, withSha512: true);
        BagWriter.Publish(Staging, Bag);

        BagCheck check = BagReader.Check(Bag, BagDepth.Full);
        Assert.Equal([], check.Warnings);
        Assert.True(check.IsPristine);
        foreach ((string tool, string manifest) in new[]
        {
            ("sha512sum", "tagmanifest-sha512.txt"), ("sha256sum", "tagmanifest-sha256.txt"), ("sha512sum", "manifest-sha512.txt"), ("sha256sum", "manifest-sha256.txt"),
        })
        {
            // A '%' is the one character that makes a manifest line no line of these tools (docs/formats/archive.md §2.2): its name is put back first.
            string list = _folder[manifest];
            File.WriteAllText(list, File.ReadAllText(Path.Combine(Bag, manifest)).Replace("%25", "%", StringComparison.Ordinal));
            (int exitCode, string output, _) = Tool.RunIn(Bag, tool, "--check", "--strict", list);
            Assert.True(exitCode == 0, output);
            Assert.Equal(File.ReadAllLines(list).Length, output.Split('\n').Count(line => line.EndsWith(": OK", StringComparison.Ordinal)));
        }

        Assert.Equal(3, File.ReadAllLines(Path.Combine(Bag, "manifest-sha512.txt")).Length);
        Assert.Equal(
            ["README.txt", "bag-info.txt", "bagit.txt", "manifest-sha256.txt", "manifest-sha512.txt"],
            File.ReadAllLines(Path.Combine(Bag, "tagmanifest-sha512.txt")).Select(line => line[130..]).Order(StringComparer.Ordinal));
    }

    [Theory]
    [InlineData("manifest-sha512.txt")]
    [InlineData("tagmanifest-sha512.txt")]
    [InlineData("manifest-sha256.txt")]
    [InlineData("tagmanifest-sha256.txt")]
    public void Of_two_manifests_each_is_judged_and_neither_may_go(string manifest)
    {
        BagWriter.Stage(Staging, [BagFile.FromBytes("master.flac", "sound"u8.ToArray())], [], SampleBag.Info, CancellationToken.None, withSha512: true);
        BagWriter.Publish(Staging, Bag);
        string path = Path.Combine(Bag, manifest);
        File.SetUnixFileMode(Bag, UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute);
        File.SetUnixFileMode(path, UnixFileMode.UserRead | UnixFileMode.UserWrite);
        string text = File.ReadAllText(path);
        File.WriteAllText(path, (text[0] == '0' ? '1' : '0') + text[1..]);
        Assert.False(BagReader.Check(Bag, BagDepth.Full).IsValid);
        File.WriteAllText(path, text);
        Assert.True(BagReader.Check(Bag, BagDepth.Full).IsPristine);
        File.Delete(path);
        Assert.False(BagReader.Check(Bag, BagDepth.Full).IsPristine);
    }

    // RFC 8493 §2.1.1: exactly these two lines (the conformance suite's basic bag, confirmed).
    [Fact]
    public void The_declaration_is_that_of_version_1_0() => Assert.Equal(
        "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"u8.ToArray(), File.ReadAllBytes(Path.Combine(SampleBag.Publish(_folder), "bagit.txt")));

    // RFC 8493 §2.2.2, labels as the conformance suite's samples write them (confirmed); Payload-Oxum = octets.files (computed).
    [Fact]
    public void The_bag_information_reads_as_the_standard_says()
    {
        string text = File.ReadAllText(Path.Combine(SampleBag.Publish(_folder), "bag-info.txt"));
        Assert.Equal(
            """
            Source-Organization: Quayside Pressings
            External-Description: The Lantern Street Quintet: Tide Tables, side A
            External-Identifier: HL-0031-A-c1
            Bagging-Date: 2026-03-14
            Payload-Oxum: 3072.4
            Bag-Group-Identifier: HL-0031
            Bag-Software-Agent: StationDaemon 0.1.0

            """,
            text);
    }

    [Fact]
    public void What_was_written_into_the_bag_information_is_read_back()
    {
        BagInfo info = SampleBag.Info with { Additional = [("Note", "first line\nsecond: line"), ("Note", "é, repeated"), ("Contact-Name", "")] };
        BagWriter.Stage(Staging, [SampleBag.Text("a", "x")], [], info, CancellationToken.None);
        BagInfo found = BagReader.ReadInfo(Staging);
        Assert.Equal(info.Additional, found.Additional);
        Assert.Equal(info with { Additional = [] }, found with { Additional = [] });
    }

    [Theory]
    [InlineData("No: colon")]
    [InlineData(" blank")]
    [InlineData("blank ")]
    [InlineData("")]
    [InlineData("two\nlines")]
    [InlineData("Payload-Oxum")]
    [InlineData("bagging-date")]
    public void A_label_that_would_not_read_back_is_refused_before_anything_is_written(string label)
    {
        BagInfo info = SampleBag.Info with { Additional = [(label, "x")] };
        Assert.Throws<ArgumentException>(() => BagWriter.Stage(Staging, [], [], info, CancellationToken.None));
        Assert.Empty(_folder.Names);
    }

    // GNU coreutils sha256sum as the independent reader. Its lines and BagIt's are alike for ordinary names (observed).
    [Fact]
    public void The_manifests_satisfy_the_common_checking_tool()
    {
        string bag = SampleBag.Publish(_folder, SampleBag.Text("é, 1.txt", "x\n"));
        foreach (string manifest in new[] { "manifest-sha256.txt", "tagmanifest-sha256.txt" })
        {
            Tool.Result result = Tool.RunIn(bag, "sha256sum", "--check", "--strict", manifest);
            Assert.True(result.ExitCode == 0, result.Output + result.Error);
            Assert.Equal(File.ReadAllLines(Path.Combine(bag, manifest)).Length, result.Output.Split('\n', StringSplitOptions.RemoveEmptyEntries).Length);
        }

        // Digest of "x\n" as that tool printed it (observed).
        Assert.Contains("73cb3858a687a8494ca3323053016282f3dad39d42cf62ca4e79dda2aac7d9ac  data/é, 1.txt\n", File.ReadAllText(Path.Combine(bag, "manifest-sha256.txt")), StringComparison.Ordinal);
    }

    [Fact]
    public void The_tag_manifest_lists_every_tag_file_but_itself()
    {
        string bag = SampleBag.Publish(_folder);
        IEnumerable<string> listed = File.ReadAllLines(Path.Combine(bag, "tagmanifest-sha256.txt")).Select(line => line[66..]);
        Assert.Equal(["README.txt", "bag-info.txt", "bagit.txt", "manifest-sha256.txt"], listed);
    }

    [Fact]
    public void Names_with_line_ends_and_percent_signs_survive()
    {
        BagFile[] payload = [SampleBag.Text("a\nb", "1"), SampleBag.Text("%0A", "2"), SampleBag.Text("100%", "3"), SampleBag.Text("c\rd", "4")];
        BagWriter.Stage(Staging, payload, [], SampleBag.Info, CancellationToken.None);
        Assert.Equal(["data/%250A", "data/100%25", "data/a%0Ab", "data/c%0Dd"], File.ReadAllLines(Path.Combine(Staging, "manifest-sha256.txt")).Select(line => line[66..]).Order(StringComparer.Ordinal));
        Assert.True(BagReader.Check(Staging, BagDepth.Full).IsPristine);
    }

    [Fact]
    public void Staging_again_replaces_what_an_earlier_try_left()
    {
        _folder.Write(Path.GetFileName(Staging) + "/data/junk", "left over");
        BagWriter.Stage(Staging, [SampleBag.Text("a", "x")], [], SampleBag.Info, CancellationToken.None);
        BagWriter.Stage(Staging, [SampleBag.Text("a", "x")], [], SampleBag.Info, CancellationToken.None);
        BagCheck check = BagReader.Check(Staging, BagDepth.Full);
        Assert.True(check.IsPristine);
        Assert.Equal(1, check.PayloadFiles);
    }

    [Fact]
    public void A_folder_with_an_ordinary_name_is_never_taken_for_staging()
    {
        _folder.Write("bag/precious", "x");
        Assert.Throws<ArgumentException>(() => BagWriter.Stage(Bag, [], [], SampleBag.Info, CancellationToken.None));
        Assert.True(File.Exists(_folder["bag/precious"]));
    }

    [Fact]
    public void Publishing_never_replaces_a_bag()
    {
        string bag = SampleBag.Publish(_folder);
        string staging = DurableFile.StagingPathFor(bag);
        BagWriter.Stage(staging, [SampleBag.Text("other", "x")], [], SampleBag.Info, CancellationToken.None);
        Assert.True(Assert.Throws<PosixException>(() => BagWriter.Publish(staging, bag)).IsExists);
        Assert.True(BagReader.Check(bag, BagDepth.Full).IsPristine);
        Assert.True(BagReader.Check(staging, BagDepth.Full).IsPristine);
    }

    [Fact]
    public void A_published_bag_is_read_only_throughout()
    {
        string bag = SampleBag.Publish(_folder);
        const UnixFileMode AnyWrite = UnixFileMode.UserWrite | UnixFileMode.GroupWrite | UnixFileMode.OtherWrite;
        foreach (string entry in Directory.GetFileSystemEntries(bag, "*", SearchOption.AllDirectories).Append(bag))
        {
            Assert.Equal(UnixFileMode.None, File.GetUnixFileMode(entry) & AnyWrite);
        }
    }

    [Fact]
    public void Sealing_completes_a_publication_that_was_cut_off()
    {
        BagWriter.Stage(Staging, [SampleBag.Text("a", "x")], [], SampleBag.Info, CancellationToken.None);
        DurableFile.RenameNoReplace(Staging, Bag);
        Assert.NotEqual(UnixFileMode.None, File.GetUnixFileMode(Bag) & UnixFileMode.UserWrite);
        BagWriter.Seal(Bag);
        BagWriter.Seal(Bag);
        Assert.Equal(UnixFileMode.None, File.GetUnixFileMode(Bag) & UnixFileMode.UserWrite);
        Assert.True(BagReader.Check(Bag, BagDepth.Full).IsPristine);
    }

    [Fact]
    public void A_copied_source_stays_its_own_file()
    {
        string source = _folder.Write("side.wav", "bytes");
        BagWriter.Stage(Staging, [BagFile.FromFile("side.wav", source)], [], SampleBag.Info, CancellationToken.None);
        File.WriteAllText(source, "BYTES");
        Assert.True(BagReader.Check(Staging, BagDepth.Full).IsPristine);
        Assert.NotEqual(UnixFileMode.None, File.GetUnixFileMode(source) & UnixFileMode.UserWrite);
    }

    [Fact]
    public void A_linked_source_is_shared_and_becomes_read_only()
    {
        string source = _folder.Write("master.flac", "bytes");
        BagWriter.Stage(Staging, [BagFile.FromFile("master.flac", source, mayLink: true)], [], SampleBag.Info, CancellationToken.None);
        Assert.Equal(SafeOpen.TryIdentify(source), SafeOpen.TryIdentify(Path.Combine(Staging, "data", "master.flac")));
        Assert.True(BagReader.Check(Staging, BagDepth.Full).IsPristine);
    }

    [Fact]
    public void A_source_that_is_not_what_it_was_is_refused_and_the_partial_bag_goes()
    {
        string source = _folder.Write("side.wav", "other bytes");
        string known = SampleBag.Hex("sha256", "the bytes that were inspected"u8.ToArray());
        SourceChangedException e = Assert.Throws<SourceChangedException>(
            () => BagWriter.Stage(Staging, [BagFile.FromFile("side.wav", source, known)], [], SampleBag.Info, CancellationToken.None));
        Assert.Contains(known, e.Message, StringComparison.Ordinal);
        Assert.Equal(["side.wav"], _folder.Names);
        Assert.Equal("other bytes", File.ReadAllText(source));
    }

    [Fact]
    public void A_wrong_digest_given_for_a_linked_file_is_found_by_the_check()
    {
        string source = _folder.Write("master.flac", "bytes");
        string wrong = SampleBag.Hex("sha256", "others"u8.ToArray());
        BagWriter.Stage(Staging, [BagFile.FromFile("master.flac", source, wrong, mayLink: true)], [], SampleBag.Info, CancellationToken.None);
        BagFault fault = Assert.Single(BagReader.Check(Staging, BagDepth.Full).Faults);
        Assert.Equal(("data/master.flac", BagFaultKind.Altered), (fault.File, fault.Kind));
    }

    [Fact]
    public void A_link_as_source_is_refused()
    {
        File.CreateSymbolicLink(_folder["link"], _folder.Write("a", "x"));
        Assert.Throws<NotRegularFileException>(() => BagWriter.Stage(Staging, [BagFile.FromFile("a", _folder["link"])], [], SampleBag.Info, CancellationToken.None));
        Assert.Equal(["a", "link"], _folder.Names);
    }

    [Fact]
    public void Stopping_leaves_nothing()
    {
        using CancellationTokenSource stop = new();
        stop.Cancel();
        Assert.Throws<OperationCanceledException>(() => BagWriter.Stage(Staging, [SampleBag.Text("a", "x")], [], SampleBag.Info, stop.Token));
        Assert.Empty(_folder.Names);
    }

    [Theory]
    [InlineData("A.wav", "a.wav")]
    [InlineData("\u00E9.wav", "e\u0301.wav")]
    [InlineData("same", "same")]
    public void Two_names_that_some_file_systems_take_for_one_are_refused(string first, string second) => Assert.Throws<ArgumentException>(
        () => BagWriter.Stage(Staging, [SampleBag.Text(first, "1"), SampleBag.Text(second, "2")], [], SampleBag.Info, CancellationToken.None));

    [Theory]
    [InlineData("bagit.txt")]
    [InlineData("Bag-Info.txt")]
    [InlineData("fetch.txt")]
    [InlineData("manifest-sha512.txt")]
    [InlineData("tagmanifest-md5.txt")]
    [InlineData("data/x")]
    [InlineData("data")]
    [InlineData("~x")]
    [InlineData("../x")]
    public void A_tag_file_may_not_take_a_name_of_the_format(string name) => Assert.Throws<ArgumentException>(
        () => BagWriter.Stage(Staging, [], [SampleBag.Text(name, "x")], SampleBag.Info, CancellationToken.None));

    [Fact]
    public void An_empty_payload_is_a_bag_too()
    {
        BagWriter.Stage(Staging, [], [], SampleBag.Info, CancellationToken.None);
        Assert.True(BagReader.Check(Staging, BagDepth.Full).IsPristine);
        Assert.Contains("Payload-Oxum: 0.0\n", File.ReadAllText(Path.Combine(Staging, "bag-info.txt"), Encoding.UTF8), StringComparison.Ordinal);
    }
}
