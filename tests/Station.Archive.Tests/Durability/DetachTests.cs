using Station.Archive.Durability;
using Station.Archive.Tests.Support;

namespace Station.Archive.Tests.Durability;

public sealed class DetachTests : IDisposable
{
    private readonly TempFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void A_file_with_one_name_is_left_as_it_is()
    {
        FileFacts before = SafeOpen.TryLook(_folder.Write("a", "sound"))!.Value;
        Assert.False(DurableFile.Detach(_folder["a"]));
        Assert.Equal(before, SafeOpen.TryLook(_folder["a"]));
    }

    [Fact]
    public void A_file_with_other_names_gets_bytes_of_its_own_and_they_keep_theirs()
    {
        string path = _folder.Write("a", "sound");
        File.SetLastWriteTimeUtc(path, DateTime.UnixEpoch.AddDays(1));
        Assert.Equal(0, Tool.Run("ln", path, _folder["b"]).ExitCode);
        FileFacts before = SafeOpen.TryLook(path)!.Value;
        Assert.True(DurableFile.Detach(path));
        Assert.Equal(["a", "b"], _folder.Names);
        FileFacts after = SafeOpen.TryLook(path)!.Value;
        Assert.Equal((1L, before.Identity.ModifiedNanoseconds), (after.LinkCount, after.Identity.ModifiedNanoseconds));
        Assert.NotEqual(before.Identity.Inode, after.Identity.Inode);
        Assert.Equal(before.Identity.Inode, SafeOpen.TryLook(_folder["b"])!.Value.Identity.Inode);
        File.AppendAllText(_folder["b"], " changed");
        Assert.Equal(("sound", "sound changed"), (File.ReadAllText(path), File.ReadAllText(_folder["b"])));
        Assert.False(DurableFile.Detach(path));
    }
}
