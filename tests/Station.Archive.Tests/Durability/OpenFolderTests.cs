using System.Text;
using Station.Archive.Durability;
using Station.Archive.Tests.Support;

namespace Station.Archive.Tests.Durability;

public sealed class OpenFolderTests : IDisposable
{
    private readonly TempFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void Every_entry_is_visited_once_with_its_facts_however_many_there_are()
    {
        for (int n = 0; n < 3000; n++)
        {
            _folder.Write($"{n:0000} {new string('x', n % 200)}", new string('a', n % 7));
        }

        Directory.CreateDirectory(_folder["folder"]);
        File.CreateSymbolicLink(_folder["link"], "folder");
        var seen = new Dictionary<string, FileFacts>(StringComparer.Ordinal);
        using OpenFolder folder = OpenFolder.Open(_folder.Path);
        folder.ForEach(e => seen.Add(Encoding.UTF8.GetString(e.Name), folder.TryLook(e)!.Value));
        Assert.Equal(_folder.Names, seen.Keys.Order(StringComparer.Ordinal));
        Assert.All(seen, s => Assert.Equal(SafeOpen.TryLook(_folder[s.Key]), s.Value));
        Assert.Equal((FileKind.Folder, FileKind.SymbolicLink), (seen["folder"].Kind, seen["link"].Kind));
        Assert.Equal(SafeOpen.TryLook(_folder.Path)!.Value.Identity, folder.Facts.Identity);
    }

    [Fact]
    public void It_can_be_gone_through_from_the_beginning_by_opening_it_again_and_an_empty_one_has_no_entries()
    {
        for (int n = 0; n < 2; n++)
        {
            using OpenFolder folder = OpenFolder.Open(_folder.Path);
            folder.ForEach(e => Assert.Fail(Encoding.UTF8.GetString(e.Name)));
        }
    }

    [Fact]
    public void What_went_after_it_was_listed_has_no_facts()
    {
        _folder.Write("a", "x");
        using OpenFolder folder = OpenFolder.Open(_folder.Path);
        FileFacts? facts = default(FileFacts);
        folder.ForEach(e =>
        {
            File.Delete(_folder["a"]);
            facts = folder.TryLook(e);
        });
        Assert.Null(facts);
    }

    [Fact]
    public void A_link_to_a_folder_is_not_followed_and_a_file_is_no_folder()
    {
        Directory.CreateDirectory(_folder["real"]);
        File.CreateSymbolicLink(_folder["link"], _folder["real"]);
        _folder.Write("file", "x");
        Assert.Equal(FileKind.SymbolicLink, Assert.Throws<NotAFolderException>(() => OpenFolder.Open(_folder["link"])).Found);
        Assert.Equal(FileKind.Regular, Assert.Throws<NotAFolderException>(() => OpenFolder.Open(_folder["file"])).Found);
        Assert.Equal(2, Assert.Throws<PosixException>(() => OpenFolder.Open(_folder["nothing"])).Errno);      // ENOENT, asm-generic/errno-base.h (confirmed)
    }

    [Fact]
    public void Entries_stay_those_of_the_folder_that_was_opened()
    {
        Directory.CreateDirectory(_folder["inbox"]);
        _folder.Write("inbox/first", "x");
        using OpenFolder folder = OpenFolder.Open(_folder["inbox"]);
        DurableFile.RenameNoReplace(_folder["inbox"], _folder["away"]);
        Directory.CreateDirectory(_folder["inbox"]);
        _folder.Write("inbox/second", "x");
        var names = new List<string>();
        folder.ForEach(e => names.Add(Encoding.UTF8.GetString(e.Name)));
        Assert.Equal(["first"], names);
        using OpenFolder other = OpenFolder.Open(_folder["inbox"]);
        Assert.NotEqual((folder.Facts.Identity.Inode, folder.Facts.BornNanoseconds), (other.Facts.Identity.Inode, other.Facts.BornNanoseconds));
    }

    [Fact]
    public void A_name_of_any_bytes_can_be_given_another_but_never_one_that_is_taken()
    {
        Assert.Equal(0, Tool.RunIn(_folder.Path, "bash", "-c", @"printf x > $'a\xff\xfe'").ExitCode);
        _folder.Write("taken", "precious");
        using OpenFolder folder = OpenFolder.Open(_folder.Path);
        byte[] name = [(byte)'a', 0xFF, 0xFE];
        Assert.True(Assert.Throws<PosixException>(() => folder.RenameNoReplace(name, "taken")).IsExists);
        Assert.Equal("precious", File.ReadAllText(_folder["taken"]));
        folder.RenameNoReplace(name, "free");
        Assert.Equal(["free", "taken"], _folder.Names);
        Assert.Equal("x", File.ReadAllText(_folder["free"]));
    }

    // GNU coreutils stat as the independent witness of the two times.
    [Fact]
    public void Times_of_change_and_birth_are_those_the_stat_tool_prints()
    {
        string path = _folder.Write("a", "xyz");
        File.SetLastWriteTimeUtc(path, DateTime.UnixEpoch);
        string[] told = Tool.Run("stat", "-c", "%.9Z %.9W", path).Output.Trim().Replace(".", "", StringComparison.Ordinal).Split(' ');
        FileFacts facts = SafeOpen.TryLook(path)!.Value;
        Assert.Equal(long.Parse(told[0]), facts.ChangedNanoseconds);
        Assert.Equal(long.Parse(told[1]), facts.BornNanoseconds);
        Assert.NotEqual(facts.Identity.ModifiedNanoseconds, facts.ChangedNanoseconds);
    }
}
