using System.Text;
using Microsoft.Win32.SafeHandles;
using Station.Archive.Durability;
using Station.Archive.Tests.Support;

namespace Station.Archive.Tests.Durability;

public sealed class DurableFileTests : IDisposable
{
    private readonly TempFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData(0)]
    [InlineData(1)]
    [InlineData(262_143)]
    [InlineData(262_144)]
    [InlineData(262_145)]
    [InlineData(1_000_000)]
    public void A_new_file_has_exactly_the_bytes_written(int count)
    {
        byte[] content = SampleBag.Noise(count, count);
        DurableFile.WriteNew(_folder["whole"], content);
        DurableFile.WriteNew(_folder["pieces"], stream =>
        {
            foreach (byte[] piece in content.Chunk(9_973))
            {
                stream.Write(piece);
            }
        });
        Assert.Equal(content, File.ReadAllBytes(_folder["whole"]));
        Assert.Equal(content, File.ReadAllBytes(_folder["pieces"]));
        Assert.Equal(["pieces", "whole"], _folder.Names);
    }

    [Fact]
    public void A_writer_may_close_its_stream()
    {
        DurableFile.WriteNew(_folder["a"], stream =>
        {
            using StreamWriter text = new(stream, new UTF8Encoding(false));
            text.Write("Low Water");
        });
        Assert.Equal("Low Water", File.ReadAllText(_folder["a"]));
    }

    [Fact]
    public void A_failing_writer_leaves_nothing()
    {
        InvalidDataException e = Assert.Throws<InvalidDataException>(() => DurableFile.WriteNew(_folder["a"], stream =>
        {
            stream.Write(SampleBag.Noise(1, 500_000));
            throw new InvalidDataException("half way");
        }));
        Assert.Equal("half way", e.Message);
        Assert.Empty(_folder.Names);
    }

    [Fact]
    public void An_existing_file_is_never_overwritten()
    {
        _folder.Write("a", "first");
        PosixException e = Assert.Throws<PosixException>(() => DurableFile.WriteNew(_folder["a"], "second"u8));
        Assert.True(e.IsExists);
        Assert.Equal(_folder["a"], e.Path);
        Assert.Equal("first", File.ReadAllText(_folder["a"]));
        Assert.Equal(["a"], _folder.Names);
    }

    [Fact]
    public void A_link_under_the_final_name_is_not_followed()
    {
        File.CreateSymbolicLink(_folder["a"], _folder["elsewhere"]);
        Assert.True(Assert.Throws<PosixException>(() => DurableFile.WriteNew(_folder["a"], "x"u8)).IsExists);
        Assert.Equal(["a"], _folder.Names);
    }

    // A real full disk: 400 KiB of memory mounted where only this child sees it (user and mount namespace, unshare(1)), so no root is needed.
    // The first write of 256 KiB fits, the second does not: ENOSPC, write(2).
    [Fact]
    public void A_full_disk_is_reported_and_leaves_nothing()
    {
        Directory.CreateDirectory(_folder["disk"]);
        string script = $"mount -t tmpfs -o size=400k small '{_folder["disk"]}' && '{Tool.ChildPath}' child write '{_folder["disk"]}/big' 1048576; "
            + $"echo $? >'{_folder["code"]}'; ls -A '{_folder["disk"]}' >'{_folder["left"]}'";
        Tool.Result result = Tool.Run("unshare", "--map-root-user", "--mount", "bash", "-c", script);
        Assert.Matches(@"^write .*/\.part-[0-9a-f]{16}: No space left on device \(28\)\n$", result.Error);
        Assert.Equal("3\n", File.ReadAllText(_folder["code"]));
        Assert.Equal("", File.ReadAllText(_folder["left"]));
    }

    // Linux asm-generic errno: ENOSPC 28, EDQUOT 122 (confirmed); EFBIG and EIO will not pass when space is back.
    [Theory]
    [InlineData(28, true)]
    [InlineData(122, true)]
    [InlineData(27, false)]
    [InlineData(5, false)]
    public void Full_disk_and_used_up_quota_are_no_space(int errno, bool noSpace) => Assert.Equal(noSpace, new PosixException(errno, "write", "/x").IsNoSpace);

    // The disk that fills up in the middle: a limit on file size, set by the shell, makes the kernel refuse the write that passes it (setrlimit(2), EFBIG).
    [Fact]
    public void A_write_refused_half_way_leaves_nothing()
    {
        // A block of bash's "ulimit -f" is 1024 bytes; the signal that would kill the process is ignored. The runtime keeps its own code in a file
        // that would pass the limit too, unless told not to.
        Tool.Result result = Tool.Run("bash", "-c", $"trap '' XFSZ; ulimit -f 400; export DOTNET_EnableWriteXorExecute=0; exec '{Tool.ChildPath}' child write '{_folder["big"]}' 1048576");
        Assert.True(result.ExitCode == 3, result.Error);
        Assert.Matches(@"^write .*/\.part-[0-9a-f]{16}: File too large \(27\)\n$", result.Error);
        Assert.Empty(_folder.Names);
    }

    // fsync(2): EINVAL for a file that does not support synchronisation, such as a device without storage. What matters: the answer is looked at.
    [Fact]
    public void A_failed_fsync_is_an_error()
    {
        using SafeFileHandle device = Posix.Open("/dev/null", Posix.WriteOnly);
        PosixException e = Assert.Throws<PosixException>(() => Posix.Fsync(device, "/dev/null"));
        Assert.Equal("fsync /dev/null: Invalid argument (22)", e.Message);
    }

    [Fact]
    public void A_length_other_than_written_is_an_error()
    {
        string path = _folder.Write("a", "before");
        using SafeFileHandle file = Posix.Open(path, Posix.WriteOnly | Posix.Append);
        using DurableWriter writer = DurableWriter.Over(path, file);
        writer.Write("x"u8);
        Assert.Equal($"{path}: expected 1 bytes after writing, found 7", Assert.Throws<IOException>(writer.Finish).Message);
    }

    [Fact]
    public void Replacing_gives_the_new_content_and_keeps_the_permissions()
    {
        string path = _folder.Write("state", "old");
        File.SetUnixFileMode(path, UnixFileMode.UserRead | UnixFileMode.UserWrite);
        DurableFile.Replace(path, "new"u8);
        DurableFile.Replace(_folder["other"], "made"u8);
        Assert.Equal("new", File.ReadAllText(path));
        Assert.Equal(UnixFileMode.UserRead | UnixFileMode.UserWrite, File.GetUnixFileMode(path));
        Assert.Equal(["other", "state"], _folder.Names);
    }

    [Fact]
    public void Replacing_a_folder_or_link_is_refused()
    {
        Directory.CreateDirectory(_folder["sub"]);
        Assert.Throws<NotRegularFileException>(() => DurableFile.Replace(_folder["sub"], "x"u8));
        Assert.Equal(["sub"], _folder.Names);
    }

    [Fact]
    public void Folders_are_made_level_by_level_and_again_without_harm()
    {
        DurableFile.CreateFolder(_folder["a/b/c"]);
        DurableFile.CreateFolder(_folder["a/b/c/"]);
        Assert.True(Directory.Exists(_folder["a/b/c"]));
    }

    [Fact]
    public void A_file_in_the_way_of_a_folder_is_an_error()
    {
        _folder.Write("a", "x");
        Assert.True(Assert.Throws<PosixException>(() => DurableFile.CreateFolder(_folder["a"])).IsExists);
        Assert.Throws<PosixException>(() => DurableFile.CreateFolder(_folder["a/b"]));
    }

    [Fact]
    public void Deleting_twice_is_no_error_but_deleting_a_folder_as_a_file_is()
    {
        _folder.Write("a", "x");
        DurableFile.Delete(_folder["a"]);
        DurableFile.Delete(_folder["a"]);
        DurableFile.Delete(_folder["no/such/folder"]);
        Directory.CreateDirectory(_folder["sub"]);
        Assert.Throws<PosixException>(() => DurableFile.Delete(_folder["sub"]));
        Assert.Equal(["sub"], _folder.Names);
    }

    [Fact]
    public void Deleting_a_folder_takes_read_only_ones_and_does_not_follow_links()
    {
        _folder.Write("keep/precious", "x");
        _folder.Write("gone/sub/file", "x");
        Directory.CreateSymbolicLink(_folder["gone/sub/link"], _folder["keep"]);
        FolderTree.MakeReadOnly(_folder["gone"]);
        DurableFile.DeleteFolder(_folder["gone"]);
        DurableFile.DeleteFolder(_folder["gone"]);
        Assert.Equal(["keep"], _folder.Names);
        Assert.True(File.Exists(_folder["keep/precious"]));
    }

    [Fact]
    public void Syncing_what_is_not_there_is_an_error()
    {
        Assert.Throws<PosixException>(() => DurableFile.Sync(_folder["nothing"]));
        Assert.Throws<PosixException>(() => DurableFile.SyncFolder(_folder["nothing"]));
        DurableFile.Sync(_folder.Write("a", "x"));
        Assert.Throws<PosixException>(() => DurableFile.SyncFolder(_folder["a"]));
    }

    [Fact]
    public void A_link_shares_the_file_and_never_replaces()
    {
        string from = _folder.Write("a", "x");
        DurableFile.LinkOrCopy(from, _folder["b"]);
        Assert.Equal(SafeOpen.TryIdentify(from), SafeOpen.TryIdentify(_folder["b"]));
        _folder.Write("c", "mine");
        Assert.True(Assert.Throws<PosixException>(() => DurableFile.LinkOrCopy(from, _folder["c"])).IsExists);
        Assert.Equal("mine", File.ReadAllText(_folder["c"]));
    }

    [Fact]
    public void Linking_a_link_is_refused()
    {
        File.CreateSymbolicLink(_folder["link"], _folder.Write("a", "x"));
        Assert.Throws<NotRegularFileException>(() => DurableFile.LinkOrCopy(_folder["link"], _folder["b"]));
        Assert.Equal(["a", "link"], _folder.Names);
    }

    [Fact]
    public void Across_file_systems_a_copy_takes_the_place_of_a_link()
    {
        using TempFolder memory = new("/dev/shm");
        string from = memory.Write("a", "bytes");
        Assert.NotEqual(SafeOpen.TryIdentify(from)!.Value.Device, SafeOpen.TryIdentify(_folder.Path)!.Value.Device);
        DurableFile.LinkOrCopy(from, _folder["b"]);
        Assert.Equal("bytes", File.ReadAllText(_folder["b"]));
        Assert.Equal(["b"], _folder.Names);
    }

    [Fact]
    public void Dropping_the_cache_leaves_the_content()
    {
        byte[] content = SampleBag.Noise(5, 100_000);
        DurableFile.WriteNew(_folder["a"], content);
        DurableFile.DropCache(_folder["a"]);
        Assert.Equal(content, File.ReadAllBytes(_folder["a"]));
    }

    [Fact]
    public void A_name_with_nul_is_refused_rather_than_cut()
    {
        Assert.Throws<ArgumentException>(() => DurableFile.WriteNew(_folder["a"] + "\0b", "x"u8));
        Assert.Empty(_folder.Names);
    }

    [Fact]
    public void Messages_stay_on_one_line_whatever_the_name()
    {
        PosixException e = Assert.Throws<PosixException>(() => DurableFile.Sync(_folder["a\nb\u202Ec"]));
        Assert.Equal($"statx {_folder.Path}/a\\u{{000A}}b\\u{{202E}}c: No such file or directory (2)", e.Message);
    }

    [Theory]
    [InlineData(".part-0123456789abcdef", true)]
    [InlineData(".part-0123456789ABCDEF", false)]
    [InlineData(".part-0123456789abcde", false)]
    [InlineData(".part-0123456789abcdef0", false)]
    [InlineData("part-0123456789abcdef", false)]
    [InlineData("HL-0031-A.part2.wav", false)]
    [InlineData("side.wav.part", false)]
    [InlineData("", false)]
    public void Temporary_names_are_told_from_all_others(string name, bool temporary) => Assert.Equal(temporary, DurableFile.IsTemporaryName(name));

    [Fact]
    public void The_staging_name_of_a_bag_is_always_the_same_and_temporary()
    {
        string staging = DurableFile.StagingPathFor(_folder["HL-0031-A-c1"]);
        Assert.Equal(staging, DurableFile.StagingPathFor(_folder["HL-0031-A-c1/"]));
        Assert.NotEqual(staging, DurableFile.StagingPathFor(_folder["HL-0031-A-c2"]));
        Assert.Equal(_folder.Path, Path.GetDirectoryName(staging));
        Assert.True(DurableFile.IsTemporaryName(Path.GetFileName(staging)));
    }
}
