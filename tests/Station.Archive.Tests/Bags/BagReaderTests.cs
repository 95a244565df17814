using System.Text;
using Station.Archive.Bags;
using Station.Archive.Tests.Support;

namespace Station.Archive.Tests.Bags;

/// <summary>
/// RFC 8493 (October 2018, Informational) rule by rule, on bags written by hand. "Suite" is the public-domain BagIt conformance suite; case names and verdicts
/// confirmed there. "Second-hand": the clause was read as quoted by several independent readers of the RFC.
/// </summary>
public sealed class BagReaderTests : IDisposable
{
    private readonly TempFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    // §3: complete and every digest right = valid (from memory).
    [Theory]
    [InlineData("md5")]
    [InlineData("sha1")]
    [InlineData("sha256")]
    [InlineData("sha384")]
    [InlineData("sha512")]
    public void A_bag_with_any_usual_digest_is_valid(string algorithm)
    {
        HandBag bag = Two().Manifest(algorithm);
        bag.TagManifest(algorithm, "bagit.txt", $"manifest-{algorithm}.txt");
        Pristine(bag);
    }

    // §2.1.1: exactly two lines (from memory).
    [Theory]
    [InlineData("")]
    [InlineData("BagIt-Version: 1.0\n")]
    [InlineData("BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\nMore: x\n")]
    [InlineData("Tag-File-Character-Encoding: UTF-8\nBagIt-Version: 1.0\n")]
    [InlineData("BagIt-Version: one\nTag-File-Character-Encoding: UTF-8\n")]
    [InlineData("BagIt-Version: 1\nTag-File-Character-Encoding: UTF-8\n")]
    [InlineData("bagit-version: 1.0\nTag-File-Character-Encoding: UTF-8\n")]
    public void A_declaration_that_is_not_those_two_lines_is_malformed(string text) => Faulty(Two().Manifest().Write("bagit.txt", text), "bagit.txt", BagFaultKind.Malformed);

    // Suite, v1.0 invalid: "bom-in-bagit.txt" (confirmed).
    [Fact]
    public void A_byte_order_mark_in_the_declaration_is_malformed() => Faulty(
        Two().Manifest().Write("bagit.txt", "\uFEFFBagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"), "bagit.txt", BagFaultKind.Malformed);

    // Suite, v1.0 invalid: "bagit-with-invalid-whitespace" (confirmed).
    [Theory]
    [InlineData("BagIt-Version : 1.0\nTag-File-Character-Encoding: UTF-8\n")]
    [InlineData("BagIt-Version: 1.0\nTag-File-Character-Encoding : UTF-8\n")]
    [InlineData(" BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n")]
    [InlineData("BagIt-Version:  1.0\nTag-File-Character-Encoding: UTF-8\n")]
    [InlineData("BagIt-Version: 1.0 \nTag-File-Character-Encoding: UTF-8\n")]
    public void White_space_that_does_not_belong_in_the_declaration_is_malformed(string text) =>
        Faulty(Two().Manifest().Write("bagit.txt", text), "bagit.txt", BagFaultKind.Malformed);

    // §2.1: the declaration is required (from memory).
    [Fact]
    public void A_missing_declaration_is_named()
    {
        HandBag bag = Two().Manifest();
        File.Delete(Path.Combine(bag.Folder, "bagit.txt"));
        Faulty(bag, "bagit.txt", BagFaultKind.Missing);
    }

    // A version this reader has no rules for must not be judged by others' rules (common practice, no source).
    [Theory]
    [InlineData("1.1")]
    [InlineData("2.0")]
    public void A_later_version_is_unsupported(string version) =>
        Faulty(Two().Manifest().Write("bagit.txt", $"BagIt-Version: {version}\nTag-File-Character-Encoding: UTF-8\n"), "bagit.txt", BagFaultKind.Unsupported);

    // Line ends may be LF, CR or CRLF (from memory).
    [Theory]
    [InlineData("\r")]
    [InlineData("\r\n")]
    public void Every_line_end_is_read(string end)
    {
        HandBag bag = Two().Manifest();
        foreach (string name in new[] { "bagit.txt", "manifest-sha256.txt" })
        {
            bag.Write(name, File.ReadAllText(Path.Combine(bag.Folder, name)).Replace("\n", end, StringComparison.Ordinal));
        }

        Pristine(bag.TagManifest("sha256", "bagit.txt", "manifest-sha256.txt"));
    }

    // §2.1.1: other encodings are allowed for old bags (from memory).
    [Fact]
    public void Tag_files_are_read_in_the_declared_encoding()
    {
        HandBag bag = SampleBag.ByHand(_folder).Payload("data/é.txt", "x");
        bag.Write("bagit.txt", "BagIt-Version: 1.0\nTag-File-Character-Encoding: ISO-8859-1\n");
        bag.Write("manifest-sha256.txt", Encoding.Latin1.GetBytes(bag.Line("sha256", "data/é.txt")));
        Pristine(bag.TagManifest("sha256", "bagit.txt", "manifest-sha256.txt"));
        bag.Write("bagit.txt", "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n").TagManifest("sha256", "bagit.txt", "manifest-sha256.txt");
        Faulty(bag, "manifest-sha256.txt", BagFaultKind.Malformed);
        bag.Write("bagit.txt", "BagIt-Version: 1.0\nTag-File-Character-Encoding: X-NONE\n");
        Faulty(bag, "bagit.txt", BagFaultKind.Unsupported);
    }

    // §2.1.2: data/ is required (from memory).
    [Fact]
    public void A_bag_without_a_payload_folder_is_incomplete()
    {
        HandBag bag = SampleBag.ByHand(_folder).Manifest();
        Directory.Delete(Path.Combine(bag.Folder, "data"));
        Faulty(bag, "data", BagFaultKind.Missing);
    }

    // §2.1.3: at least one payload manifest (from memory; suite names manifest-sha512.txt, confirmed).
    [Fact]
    public void A_bag_without_a_payload_manifest_is_incomplete()
    {
        BagCheck check = Two().Check();
        Assert.Contains(check.Faults, fault => fault.Kind == BagFaultKind.Missing && fault.File.StartsWith("manifest-", StringComparison.Ordinal));
        Assert.Contains(check.Faults, fault => fault is { File: "data/a.txt", Kind: BagFaultKind.Unexpected });
    }

    // §2.4: names of algorithms in lower case without hyphen (from memory).
    [Theory]
    [InlineData("sha-256")]
    [InlineData("SHA256")]
    public void An_algorithm_name_not_in_normal_form_is_malformed(string name)
    {
        HandBag bag = Two();
        bag.Write($"manifest-{name}.txt", bag.Line("sha256", "data/a.txt") + bag.Line("sha256", "data/sub/b.txt"));
        Faulty(bag, $"manifest-{name}.txt", BagFaultKind.Malformed);
    }

    [Fact]
    public void An_algorithm_not_known_here_is_a_remark_beside_a_known_one_and_a_fault_alone()
    {
        HandBag bag = Two().Manifest();
        bag.Write("manifest-whirl.txt", "ab  data/a.txt\ncd  data/sub/b.txt\n");
        BagCheck check = bag.Check();
        Assert.True(check.IsValid);
        Assert.Contains(check.Warnings, warning => warning.StartsWith("manifest-whirl.txt: ", StringComparison.Ordinal));
        File.Delete(Path.Combine(bag.Folder, "manifest-sha256.txt"));
        Faulty(bag, "manifest-whirl.txt", BagFaultKind.Unsupported);
    }

    // §3: "For BagIt 1.0, every payload file MUST be listed in every payload manifest" (second-hand); suite "notAllManifestsListAllFiles" (confirmed).
    [Fact]
    public void Every_manifest_lists_every_file()
    {
        HandBag bag = Two().Manifest("sha256").Manifest("sha512");
        bag.Write("manifest-sha512.txt", bag.Line("sha512", "data/a.txt"));
        Faulty(bag, "data/sub/b.txt", BagFaultKind.Unlisted);
    }

    // "Note that older versions of BagIt allowed payload files to be listed in just one of the manifests" (§3, second-hand).
    [Fact]
    public void Before_1_0_one_manifest_was_enough()
    {
        HandBag bag = Two().Manifest("sha256");
        bag.Write("manifest-md5.txt", bag.Line("md5", "data/a.txt"));
        bag.Write("bagit.txt", "BagIt-Version: 0.97\nTag-File-Character-Encoding: UTF-8\n");
        Assert.True(bag.Check().IsValid);
    }

    // Suite, v1.0 invalid: both "same-filename-listed-twice" cases (confirmed).
    [Theory]
    [InlineData(true)]
    [InlineData(false)]
    public void A_file_listed_twice_is_invalid_with_the_same_digest_or_another(bool same)
    {
        HandBag bag = Two();
        string line = bag.Line("sha256", "data/a.txt");
        Faulty(bag.Manifest(more: same ? line : new string('0', 64) + line[64..]), "data/a.txt", BagFaultKind.Duplicate);
    }

    // §2.1.3: digest, white space, path (suite files show two blanks and one, confirmed; tab from memory).
    [Theory]
    [InlineData(" ")]
    [InlineData("  ")]
    [InlineData("\t")]
    [InlineData(" \t ")]
    public void Any_white_space_may_separate_digest_and_path(string gap)
    {
        HandBag bag = Two().Manifest(gap: gap);
        Pristine(bag.TagManifest("sha256", "bagit.txt", "manifest-sha256.txt"));
    }

    [Theory]
    [InlineData("nothing")]
    [InlineData("zz  data/x")]
    [InlineData("abcd  data/x")]
    [InlineData("73cb3858a687a8494ca3323053016282f3dad39d42cf62ca4e79dda2aac7d9ac")]
    [InlineData("73cb3858a687a8494ca3323053016282f3dad39d42cf62ca4e79dda2aac7d9ac  ")]
    [InlineData("SHA256 (data/a.txt) = 73cb3858a687a8494ca3323053016282f3dad39d42cf62ca4e79dda2aac7d9ac")]
    [InlineData("73cb3858a687a8494ca3323053016282f3dad39d42cf62ca4e79dda2aac7d9ac  data//x")]
    [InlineData("73cb3858a687a8494ca3323053016282f3dad39d42cf62ca4e79dda2aac7d9ac  data/./x")]
    [InlineData("73cb3858a687a8494ca3323053016282f3dad39d42cf62ca4e79dda2aac7d9ac  bagit.txt")]
    public void A_line_of_another_form_is_malformed_and_named_by_number(string line)
    {
        BagCheck check = Two().Manifest(more: line + "\n").Check();
        BagFault fault = Assert.Single(check.Faults);
        Assert.Equal(("manifest-sha256.txt", BagFaultKind.Malformed), (fault.File, fault.Kind));
        Assert.StartsWith("manifest-sha256.txt: line 3: ", fault.Message, StringComparison.Ordinal);
    }

    // §2.1.3 (second-hand): CR, LF, % encoded; hex digits of either case (RFC 3986 §2.1, from memory).
    [Fact]
    public void Encoded_paths_are_found_on_disk()
    {
        HandBag bag = SampleBag.ByHand(_folder)
            .Payload("data/a\nb", "1", "data/a%0ab")
            .Payload("data/%0A", "2", "data/%250A")
            .Payload("data/100%", "3", "data/100%25")
            .Manifest();
        Pristine(bag.TagManifest("sha256", "bagit.txt", "manifest-sha256.txt"));
    }

    [Fact]
    public void A_percent_sign_left_as_it_is_is_a_remark()
    {
        BagCheck check = SampleBag.ByHand(_folder).Payload("data/100%.wav", "x").Manifest().Check();
        Assert.True(check.IsValid);
        Assert.Contains(check.Warnings, warning => warning.Contains("% that is not encoded", StringComparison.Ordinal));
    }

    // Suite: v0.97 bags with names such as "%test2.txt" (confirmed).
    [Fact]
    public void Before_1_0_a_percent_sign_stood_for_itself()
    {
        HandBag bag = SampleBag.ByHand(_folder).Payload("data/a%25.txt", "x").Manifest();
        bag.Write("bagit.txt", "BagIt-Version: 0.97\nTag-File-Character-Encoding: UTF-8\n");
        Assert.True(bag.Check().IsValid);
    }

    // Suite: "extra-file-in-bag" (confirmed).
    [Fact]
    public void A_payload_file_in_no_manifest_is_unexpected() =>
        Faulty(Two().Manifest().Write("data/sub/stray.txt", "x"), "data/sub/stray.txt", BagFaultKind.Unexpected, BagDepth.Quick);

    // Suite: "corrupt-data-file" (confirmed).
    [Fact]
    public void A_payload_file_with_another_digest_is_altered()
    {
        HandBag bag = Two().Manifest().Write("data/a.txt", "Slack tide\n");
        Faulty(bag, "data/a.txt", BagFaultKind.Altered);
        Assert.True(bag.Check(BagDepth.Quick).IsValid);
    }

    // §3 (from memory).
    [Fact]
    public void A_listed_file_that_is_not_there_is_missing()
    {
        HandBag bag = Two().Manifest();
        File.Delete(Path.Combine(bag.Folder, "data/sub/b.txt"));
        Faulty(bag, "data/sub/b.txt", BagFaultKind.Missing, BagDepth.Quick);
    }

    [Fact]
    public void A_digest_in_upper_case_counts_and_is_remarked()
    {
        HandBag bag = Two();
        string line = bag.Line("sha256", "data/a.txt");
        bag.Write("manifest-sha256.txt", line[..64].ToUpperInvariant() + line[64..] + bag.Line("sha256", "data/sub/b.txt"));
        BagCheck check = bag.Check();
        Assert.True(check.IsValid);
        Assert.Contains(check.Warnings, warning => warning.StartsWith("manifest-sha256.txt: line 1: digest", StringComparison.Ordinal));
    }

    // §2.2.1: tag manifests are optional, list tag files and not themselves (suite basicBag, confirmed).
    [Fact]
    public void A_tag_manifest_may_be_left_out_with_a_remark_that_nothing_guards_the_tags()
    {
        BagCheck check = Two().Manifest().Check();
        Assert.True(check.IsValid);
        Assert.Equal(["tagmanifest-sha256.txt: the bag has no tag manifest: nothing guards its tag files and manifests"], check.Warnings);
    }

    // Suite: "corrupt-tag-file" (confirmed).
    [Fact]
    public void A_tag_file_with_another_digest_is_altered()
    {
        HandBag bag = Two().Manifest().Write("notes.txt", "before");
        bag.TagManifest("sha256", "bagit.txt", "manifest-sha256.txt", "notes.txt").Write("notes.txt", "after");
        Faulty(bag, "notes.txt", BagFaultKind.Altered);
    }

    // §2.2.1: "Each tag manifest MUST list every payload manifest. Each tag manifest MUST NOT list any tag manifests" (second-hand).
    [Fact]
    public void A_tag_manifest_lists_every_payload_manifest_and_no_tag_manifest()
    {
        HandBag bag = Two().Manifest().TagManifest("sha256", "bagit.txt");
        Faulty(bag, "tagmanifest-sha256.txt", BagFaultKind.Malformed);
        bag.TagManifest("md5", "bagit.txt", "manifest-sha256.txt").TagManifest("sha256", "bagit.txt", "manifest-sha256.txt", "tagmanifest-md5.txt");
        Faulty(bag, "tagmanifest-sha256.txt", BagFaultKind.Malformed);
    }

    [Fact]
    public void A_tag_manifest_lists_no_payload()
    {
        HandBag bag = Two().Manifest().TagManifest("sha256", "bagit.txt", "manifest-sha256.txt", "data/a.txt");
        Faulty(bag, "tagmanifest-sha256.txt", BagFaultKind.Malformed);
    }

    // §2.2.1: "SHOULD list the remaining tag files present in the bag"; §2.2.4: other tag files are allowed (second-hand).
    [Fact]
    public void A_tag_file_in_no_tag_manifest_is_a_remark()
    {
        HandBag bag = Two().Manifest().Write("extra/notes.txt", "x").TagManifest("sha256", "bagit.txt", "manifest-sha256.txt");
        BagCheck check = bag.Check();
        Assert.True(check.IsValid);
        Assert.Equal(["extra/notes.txt: is not listed in tagmanifest-sha256.txt"], check.Warnings);
    }

    // §2.2.2: Label: value, continuation lines indented (suite samples, confirmed).
    [Fact]
    public void Bag_information_is_read_with_continuation_lines()
    {
        HandBag bag = Two().Manifest().Write("bag-info.txt", "Source-Organization: Quayside Pressings\r\nExternal-Description: first\n  second\n\tthird\nContact-Name: A\nContact-Name: B\n");
        Assert.Equal(
            [("Source-Organization", "Quayside Pressings"), ("External-Description", "first\nsecond\nthird"), ("Contact-Name", "A"), ("Contact-Name", "B")],
            BagReader.ReadInfoElements(bag.Folder));
        Assert.True(bag.Check().IsValid);
    }

    [Theory]
    [InlineData("no colon\n", 1)]
    [InlineData("A: x\n: no label\n", 2)]
    [InlineData("  continues nothing\n", 1)]
    public void Bag_information_of_another_form_is_malformed(string text, int line)
    {
        HandBag bag = Two().Manifest().Write("bag-info.txt", text);
        BagFault fault = Assert.Single(bag.Check().Faults);
        Assert.Equal(("bag-info.txt", BagFaultKind.Malformed), (fault.File, fault.Kind));
        Assert.StartsWith($"bag-info.txt: line {line}: ", fault.Message, StringComparison.Ordinal);
        Assert.Throws<BagFormatException>(() => BagReader.ReadInfoElements(bag.Folder));
    }

    // Payload-Oxum: octets, dot, files (§2.2.2; 77.3 computed, 77.1 in the suite's sample, confirmed).
    [Fact]
    public void The_payload_oxum_counts_octets_and_files()
    {
        HandBag bag = SampleBag.ByHand(_folder).Payload("data/a", new string('x', 10)).Payload("data/b", "").Payload("data/sub/c", new string('y', 67)).Manifest();
        Assert.True(bag.Write("bag-info.txt", "Payload-Oxum: 77.3\n").Check(BagDepth.Quick).IsValid);
        Faulty(bag.Write("bag-info.txt", "Payload-Oxum: 77.1\n"), "data", BagFaultKind.Altered, BagDepth.Quick);
        Faulty(bag.Write("bag-info.txt", "payload-oxum: 78.3\n"), "data", BagFaultKind.Altered, BagDepth.Quick);
    }

    [Theory]
    [InlineData("Payload-Oxum: 11\n")]
    [InlineData("Payload-Oxum: 11.x\n")]
    [InlineData("Payload-Oxum: -11.2\n")]
    [InlineData("Payload-Oxum: 1,1.2\n")]
    [InlineData("Payload-Oxum: 20.2\nPayload-Oxum: 20.2\n")]
    public void A_payload_oxum_of_another_form_or_given_twice_is_malformed(string text) =>
        Faulty(Two().Manifest().Write("bag-info.txt", text), "bag-info.txt", BagFaultKind.Malformed);

    // §2.2.3 (second-hand): URL, length or -, path; listed in every payload manifest. Suite "holey-bag". Here: never fetched, so incomplete.
    [Theory]
    [InlineData("20")]
    [InlineData("-")]
    public void What_would_have_to_be_fetched_is_missing_and_never_fetched(string length)
    {
        HandBag bag = Two().Manifest().Write("fetch.txt", $"http://127.0.0.1:9/b.txt {length} data/sub/b.txt\n");
        Assert.True(bag.Check().IsValid);
        File.Delete(Path.Combine(bag.Folder, "data/sub/b.txt"));
        BagFault fault = Faulty(bag, "data/sub/b.txt", BagFaultKind.Missing);
        Assert.EndsWith("fetch.txt gives an address, nothing is ever fetched", fault.Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("http://h/x 1 data/unlisted.txt", BagFaultKind.Malformed)]
    [InlineData("http://h/x 1 bagit.txt", BagFaultKind.Malformed)]
    [InlineData("http://h/x data/a.txt", BagFaultKind.Malformed)]
    [InlineData("http://h/x many data/a.txt", BagFaultKind.Malformed)]
    [InlineData("http://h/x 1 ../a.txt", BagFaultKind.Unsafe)]
    [InlineData("http://h/x 1 data/../../a.txt", BagFaultKind.Unsafe)]
    [InlineData("http://h/x 1 /etc/passwd", BagFaultKind.Unsafe)]
    public void A_fetch_line_that_is_no_good_is_named(string line, BagFaultKind kind) => Faulty(Two().Manifest().Write("fetch.txt", line + "\n"), "fetch.txt", kind);

    // Suite: "out-of-scope-file-paths" cases (confirmed).
    [Theory]
    [InlineData("/etc/x")]
    [InlineData("../x")]
    [InlineData("data/../../x")]
    [InlineData("~/x")]
    [InlineData("~user/x")]
    [InlineData("C:\\x")]
    [InlineData("\\\\host\\x")]
    [InlineData("./../x")]
    [InlineData("data/%0A/../../../x")]
    public void A_manifest_path_that_leads_out_of_the_bag_is_refused(string path)
    {
        HandBag bag = Two().Manifest(more: new string('0', 64) + "  " + path + "\n");
        BagFault fault = Faulty(bag, "manifest-sha256.txt", BagFaultKind.Unsafe);
        Assert.StartsWith("manifest-sha256.txt: line 3: ", fault.Message, StringComparison.Ordinal);
    }

    // Suite, v0.97 "warning" folder: '*' of md5sum, './' before the path, names differing in case or Unicode form (confirmed).
    [Theory]
    [InlineData(" *", "data/a.txt")]
    [InlineData("  ", "./data/a.txt")]
    public void Marks_of_checksum_tools_are_remarked_not_refused(string gap, string path)
    {
        HandBag bag = SampleBag.ByHand(_folder).Payload("data/a.txt", "x", path).Manifest(gap: gap);
        BagCheck check = bag.Check();
        Assert.Equal([], check.Faults);
        Assert.Contains(check.Warnings, warning => warning.StartsWith("manifest-sha256.txt: line 1: ", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData("data/A.txt", "data/a.txt")]
    [InlineData("data/\u00E9.txt", "data/e\u0301.txt")]
    public void Names_that_differ_only_in_case_or_unicode_form_are_remarked(string first, string second)
    {
        BagCheck check = SampleBag.ByHand(_folder).Payload(first, "1").Payload(second, "2").Manifest().Check();
        Assert.True(check.IsValid);
        Assert.Contains(check.Warnings, warning => warning.Contains("only in case or Unicode form", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData("data/\u00E9.txt", "data/e\u0301.txt")]
    [InlineData("data/Side.txt", "data/side.txt")]
    public void A_file_whose_name_went_into_another_form_is_checked_under_it(string onDisk, string listed)
    {
        HandBag bag = SampleBag.ByHand(_folder).Payload(onDisk, "x", listed).Manifest();
        BagCheck check = bag.Check();
        Assert.Equal([], check.Faults);
        Assert.Contains(check.Warnings, warning => warning.Contains("other case or Unicode form", StringComparison.Ordinal));
        Faulty(bag.Write(onDisk, "y"), onDisk, BagFaultKind.Altered);
    }

    [Fact]
    public void Links_and_pipes_inside_a_bag_are_unsafe_and_never_opened()
    {
        HandBag bag = Two().Manifest();
        File.Delete(Path.Combine(bag.Folder, "data/a.txt"));
        File.CreateSymbolicLink(Path.Combine(bag.Folder, "data/a.txt"), _folder.Write("outside", "Low Water\n"));
        Directory.CreateSymbolicLink(Path.Combine(bag.Folder, "data/all"), "/");
        Assert.Equal(0, Tool.Run("mkfifo", Path.Combine(bag.Folder, "data/pipe")).ExitCode);
        BagCheck check = bag.Check();
        Assert.Equal(
            [("data/a.txt", BagFaultKind.Unsafe), ("data/all", BagFaultKind.Unsafe), ("data/pipe", BagFaultKind.Unsafe)],
            check.Faults.Select(fault => (fault.File, fault.Kind)));
        Assert.Equal("data/a.txt: expected a regular file, found a symbolic link", check.Faults[0].Message);
    }

    [Fact]
    public void A_declaration_that_is_a_link_is_not_read()
    {
        HandBag bag = Two().Manifest();
        File.Delete(Path.Combine(bag.Folder, "bagit.txt"));
        File.CreateSymbolicLink(Path.Combine(bag.Folder, "bagit.txt"), _folder.Write("outside", "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"));
        Faulty(bag, "bagit.txt", BagFaultKind.Unsafe);
    }

    [Fact]
    public void A_name_that_is_not_utf8_is_named_in_printable_form()
    {
        HandBag bag = Two().Manifest();
        Assert.Equal(0, Tool.RunIn(bag.Folder, "bash", "-c", "printf x > $'data/\\xff.txt'").ExitCode);
        BagFault fault = Assert.Single(bag.Check().Faults);
        Assert.Equal(BagFaultKind.Unsafe, fault.Kind);
        Assert.Equal("data/\uFFFD.txt: expected a name in UTF-8, found other bytes", fault.Message);
        Assert.Equal(0, Tool.RunIn(bag.Folder, "bash", "-c", "rm $'data/\\xff.txt'").ExitCode);
    }

    [Fact]
    public void What_is_no_folder_is_no_bag()
    {
        Assert.Equal(BagFaultKind.Missing, Assert.Single(BagReader.Check(_folder["nothing"], BagDepth.Full).Faults).Kind);
        Assert.Equal(BagFaultKind.Unsafe, Assert.Single(BagReader.Check(_folder.Write("file", ""), BagDepth.Full).Faults).Kind);
        Directory.CreateSymbolicLink(_folder["link"], Two().Manifest().Folder);
        Assert.Equal(BagFaultKind.Unsafe, Assert.Single(BagReader.Check(_folder["link"], BagDepth.Full).Faults).Kind);
    }

    [Fact]
    public void Progress_tells_every_byte_once()
    {
        string bag = SampleBag.Publish(_folder);
        Total progress = new();
        BagCheck check = BagReader.Check(bag, BagDepth.Full, CancellationToken.None, progress);
        long tags = new[] { "README.txt", "bagit.txt", "bag-info.txt", "manifest-sha256.txt" }.Sum(name => new FileInfo(Path.Combine(bag, name)).Length);
        Assert.Equal(check.PayloadBytes + tags, progress.Bytes);
    }

    [Fact]
    public void A_check_can_be_stopped()
    {
        string bag = SampleBag.Publish(_folder);
        using CancellationTokenSource stop = new();
        stop.Cancel();
        Assert.Throws<OperationCanceledException>(() => BagReader.Check(bag, BagDepth.Full, stop.Token));
    }

    [Fact]
    public void A_foreign_bag_without_our_elements_says_which_is_missing()
    {
        HandBag bag = Two().Manifest().Write("bag-info.txt", "Bagging-Date: 2026-03-14\nBag-Software-Agent: x\n");
        Assert.Contains("External-Identifier", Assert.Throws<BagFormatException>(() => BagReader.ReadInfo(bag.Folder)).Message, StringComparison.Ordinal);
        bag.Write("bag-info.txt", "External-Identifier: x\nBagging-Date: 14.3.2026\nBag-Software-Agent: x\n");
        Assert.Contains("expected YYYY-MM-DD", Assert.Throws<BagFormatException>(() => BagReader.ReadInfo(bag.Folder)).Message, StringComparison.Ordinal);
    }

    private static void Pristine(HandBag bag)
    {
        BagCheck check = bag.Check();
        Assert.Equal([], check.Faults);
        Assert.Equal([], check.Warnings);
    }

    private static BagFault Faulty(HandBag bag, string file, BagFaultKind kind, BagDepth depth = BagDepth.Full)
    {
        BagCheck check = bag.Check(depth);
        Assert.False(check.IsValid);
        Assert.Contains(check.Faults, fault => fault.File == file && fault.Kind == kind);
        return check.Faults.First(fault => fault.File == file && fault.Kind == kind);
    }

    private HandBag Two() => SampleBag.ByHand(_folder).Payload("data/a.txt", "Low Water\n").Payload("data/sub/b.txt", "Ebb Flood\n");

    private sealed class Total : IProgress<long>
    {
        public long Bytes { get; private set; }

        public void Report(long value) => Bytes += value;
    }
}
