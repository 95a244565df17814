using Station.Archive.Durability;
using Station.Archive.Tests.Support;

namespace Station.Archive.Tests.Durability;

// rename(2), renameat2(2), link(2) of the Linux manual pages (confirmed on this kernel): RENAME_NOREPLACE gives EEXIST when the new name exists.
public sealed class RenamingTests : IDisposable
{
    private readonly TempFolder _folder = new();

    /// <summary>The call with the kernel's flag, and the way taken on file systems that do not know the flag.</summary>
    public static TheoryData<bool> Ways => [true, false];

    public void Dispose() => _folder.Dispose();

    [Theory]
    [MemberData(nameof(Ways))]
    public void A_file_gets_its_new_name(bool withFlag)
    {
        _folder.Write("a", "x");
        Rename(withFlag, "a", "b");
        Assert.Equal(["b"], _folder.Names);
        Assert.Equal("x", File.ReadAllText(_folder["b"]));
    }

    [Theory]
    [MemberData(nameof(Ways))]
    public void A_file_never_replaces_a_file(bool withFlag)
    {
        _folder.Write("a", "new");
        _folder.Write("b", "old");
        Assert.True(Assert.Throws<PosixException>(() => Rename(withFlag, "a", "b")).IsExists);
        Assert.Equal("old", File.ReadAllText(_folder["b"]));
        Assert.Equal("new", File.ReadAllText(_folder["a"]));
    }

    [Theory]
    [MemberData(nameof(Ways))]
    public void A_folder_never_replaces_a_folder_not_even_an_empty_one(bool withFlag)
    {
        _folder.Write("a/x", "new");
        Directory.CreateDirectory(_folder["b"]);
        _folder.Write("c/y", "old");
        Assert.True(Assert.Throws<PosixException>(() => Rename(withFlag, "a", "b")).IsExists);
        Assert.True(Assert.Throws<PosixException>(() => Rename(withFlag, "a", "c")).IsExists);
        Assert.Empty(Directory.GetFileSystemEntries(_folder["b"]));
        Assert.Equal(["y"], Directory.GetFileSystemEntries(_folder["c"]).Select(Path.GetFileName));
    }

    [Theory]
    [MemberData(nameof(Ways))]
    public void A_folder_never_replaces_a_file_or_link(bool withFlag)
    {
        Directory.CreateDirectory(_folder["a"]);
        _folder.Write("b", "old");
        File.CreateSymbolicLink(_folder["c"], _folder["nowhere"]);
        Assert.True(Assert.Throws<PosixException>(() => Rename(withFlag, "a", "b")).IsExists);
        Assert.True(Assert.Throws<PosixException>(() => Rename(withFlag, "a", "c")).IsExists);
        Assert.Equal(["a", "b", "c"], _folder.Names);
    }

    [Theory]
    [MemberData(nameof(Ways))]
    public void Renaming_what_is_not_there_is_an_error(bool withFlag) =>
        Assert.Equal(Errno.NoEntry, Assert.Throws<PosixException>(() => Rename(withFlag, "a", "b")).Errno);

    [Fact]
    public void The_message_names_both()
    {
        _folder.Write("a", "");
        _folder.Write("b", "");
        PosixException e = Assert.Throws<PosixException>(() => DurableFile.RenameNoReplace(_folder["a"], _folder["b"]));
        Assert.Equal($"renameat2 {_folder["a"]} -> {_folder["b"]}: File exists (17)", e.Message);
    }

    [Fact]
    public void One_of_many_writers_wins_and_the_others_are_told()
    {
        const int Writers = 16;
        int told = 0;
        Parallel.For(0, Writers, writer =>
        {
            try
            {
                DurableFile.WriteNew(_folder["name"], [(byte)writer]);
            }
            catch (PosixException e) when (e.IsExists)
            {
                Interlocked.Increment(ref told);
            }
        });
        Assert.Equal(Writers - 1, told);
        Assert.Equal(["name"], _folder.Names);
        Assert.Single(File.ReadAllBytes(_folder["name"]));
    }

    private void Rename(bool withFlag, string from, string to)
    {
        if (withFlag)
        {
            DurableFile.RenameNoReplace(_folder[from], _folder[to]);
        }
        else
        {
            Renaming.WithoutTheFlag(_folder[from], _folder[to]);
        }
    }
}
