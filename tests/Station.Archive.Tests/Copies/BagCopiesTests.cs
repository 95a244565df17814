using Station.Archive.Bags;
using Station.Archive.Copies;
using Station.Archive.Durability;
using Station.Archive.Tests.Support;

namespace Station.Archive.Tests.Copies;

/// <summary>
/// Copies of bags. The judge of "the same bytes" is <c>sha256sum --check</c> of GNU coreutils over the bag's own manifests (RFC 8493 §2.1.3: a manifest line is one that
/// checksum tools read), beside a comparison byte by byte.
/// </summary>
public sealed class BagCopiesTests : IDisposable
{
    private readonly TempFolder _folder = new();
    private readonly string _bag;
    private readonly string _copy;

    public BagCopiesTests()
    {
        _bag = SampleBag.Publish(_folder);
        Directory.CreateDirectory(_folder["replica"]);
        _copy = _folder["replica/HL-0031-A-c1"];
    }

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void A_copy_is_the_bag_to_the_byte_and_as_read_only()
    {
        BagCopies.Copy(_bag, _copy, CancellationToken.None);
        Assert.Equal(Content(_bag), Content(_copy));
        Assert.Equal(Modes(_bag), Modes(_copy));
        Assert.True(BagCopies.AreEqual(_bag, _copy));
        foreach (string manifest in new[] { "manifest-sha256.txt", "tagmanifest-sha256.txt" })
        {
            Tool.Result result = Tool.RunIn(_copy, "sha256sum", "--check", "--strict", manifest);
            Assert.True(result.ExitCode == 0, result.Output + result.Error);
        }

        Assert.Equal(["HL-0031-A-c1"], Directory.GetFileSystemEntries(_folder["replica"]).Select(Path.GetFileName));
    }

    [Fact]
    public void Copying_again_proves_what_is_there()
    {
        BagCopies.Copy(_bag, _copy, CancellationToken.None);
        BagCopies.Copy(_bag, _copy, CancellationToken.None);
        Flip(Path.Combine(_copy, "data/master.flac"));
        BagNotProvedException error = Assert.Throws<BagNotProvedException>(() => BagCopies.Copy(_bag, _copy, CancellationToken.None));
        Assert.Contains("data/master.flac", error.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void A_damaged_bag_is_not_copied()
    {
        Flip(Path.Combine(_bag, "data/inspection.json"));
        BagNotProvedException error = Assert.Throws<BagNotProvedException>(() => BagCopies.Copy(_bag, _copy, CancellationToken.None));
        Assert.Contains("data/inspection.json", error.Message, StringComparison.Ordinal);
        Assert.Empty(Directory.GetFileSystemEntries(_folder["replica"]));
    }

    [Fact]
    public void What_an_earlier_try_left_is_removed_first()
    {
        string staging = DurableFile.StagingPathFor(_copy);
        Directory.CreateDirectory(Path.Combine(staging, "data"));
        File.WriteAllText(Path.Combine(staging, "data", "master.flac"), "half");
        BagCopies.Copy(_bag, _copy, CancellationToken.None);
        Assert.Equal(Content(_bag), Content(_copy));
        Assert.False(Directory.Exists(staging));
    }

    [Fact]
    public void Another_bag_of_the_same_name_is_told_apart_though_it_verifies()
    {
        using var other = new TempFolder();
        string another = SampleBag.Publish(other, SampleBag.Text("note.txt", "Another side.\n"));
        BagCopies.Copy(another, _copy, CancellationToken.None);
        Assert.True(BagReader.Check(_copy, BagDepth.Full).IsPristine);
        Assert.False(BagCopies.AreEqual(_bag, _copy));
        Assert.Throws<BagNotProvedException>(() => BagCopies.Copy(_bag, _copy, CancellationToken.None));
    }

    [Fact]
    public void A_damaged_copy_is_replaced_and_kept_aside()
    {
        BagCopies.Copy(_bag, _copy, CancellationToken.None);
        Flip(Path.Combine(_copy, "data/master.flac"));
        Dictionary<string, string> damaged = Content(_copy);
        string aside = _folder["replica/.damaged-HL-0031-A-c1"];
        BagCopies.Replace(_bag, _copy, aside, CancellationToken.None);
        Assert.Equal(Content(_bag), Content(_copy));
        Assert.Equal(Modes(_bag), Modes(_copy));
        Assert.Equal(damaged, Content(aside));
        Assert.Equal([".damaged-HL-0031-A-c1", "HL-0031-A-c1"], Directory.GetFileSystemEntries(_folder["replica"]).Select(Path.GetFileName).Order(StringComparer.Ordinal));
    }

    [Fact]
    public void A_copy_that_is_gone_is_made_again()
    {
        BagCopies.Replace(_bag, _copy, _folder["replica/.damaged-HL-0031-A-c1"], CancellationToken.None);
        Assert.Equal(Content(_bag), Content(_copy));
        Assert.Equal(["HL-0031-A-c1"], Directory.GetFileSystemEntries(_folder["replica"]).Select(Path.GetFileName));
    }

    [Fact]
    public void Nothing_is_mended_from_a_damaged_bag()
    {
        BagCopies.Copy(_bag, _copy, CancellationToken.None);
        Flip(Path.Combine(_copy, "data/master.flac"));
        Flip(Path.Combine(_bag, "data/inspection.json"));
        Dictionary<string, string> before = Content(_copy);
        Assert.Throws<BagNotProvedException>(() => BagCopies.Replace(_bag, _copy, _folder["replica/.aside"], CancellationToken.None));
        Assert.Equal(before, Content(_copy));
        Assert.Equal(["HL-0031-A-c1"], Directory.GetFileSystemEntries(_folder["replica"]).Select(Path.GetFileName));
    }

    [Fact]
    public void A_link_in_a_bag_is_not_followed()
    {
        string secret = _folder.Write("secret", "not the bag's");
        Writable(_bag);
        File.CreateSymbolicLink(Path.Combine(_bag, "notes.txt"), secret);
        BagNotProvedException error = Assert.Throws<BagNotProvedException>(() => BagCopies.Copy(_bag, _copy, CancellationToken.None));
        Assert.Contains("notes.txt", error.Message, StringComparison.Ordinal);
        Assert.Empty(Directory.GetFileSystemEntries(_folder["replica"]));
    }

    private static Dictionary<string, string> Content(string bag) => Directory.GetFiles(bag, "*", SearchOption.AllDirectories)
        .ToDictionary(f => Path.GetRelativePath(bag, f), f => Convert.ToHexString(File.ReadAllBytes(f)), StringComparer.Ordinal);

    private static Dictionary<string, UnixFileMode> Modes(string bag) => Directory.GetFileSystemEntries(bag, "*", SearchOption.AllDirectories).Append(bag)
        .ToDictionary(f => Path.GetRelativePath(bag, f), File.GetUnixFileMode, StringComparer.Ordinal);

    private static void Flip(string file)
    {
        byte[] bytes = File.ReadAllBytes(file);
        bytes[bytes.Length / 2] ^= 1;
        File.SetUnixFileMode(file, UnixFileMode.UserRead | UnixFileMode.UserWrite);
        File.WriteAllBytes(file, bytes);
        File.SetUnixFileMode(file, UnixFileMode.UserRead | UnixFileMode.GroupRead | UnixFileMode.OtherRead);
    }

    private static void Writable(string folder) => File.SetUnixFileMode(folder, File.GetUnixFileMode(folder) | UnixFileMode.UserWrite);
}
