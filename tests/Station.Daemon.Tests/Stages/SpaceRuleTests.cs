using Station.Daemon.Stages;
using Xunit;

namespace Station.Daemon.Tests.Stages;

/// <summary>Whether work begins: the sums are computed by hand from the rule as the guide states it.</summary>
public sealed class SpaceRuleTests
{
    private const long Capture = 1_000_000_000;
    private const long KeepFree = 500_000_000;
    private const long Small = 16_777_216;

    [Theory]
    [InlineData(2 * Capture + KeepFree + Small, true)]
    [InlineData(2 * Capture + KeepFree + Small - 1, false)]
    [InlineData(0, false)]
    public void On_one_disk_there_must_be_room_for_it_twice(long free, bool enough)
    {
        string? lacking = SpaceRule.Lacking(Capture, KeepFree, new("/station/working", 7, free), new("/station/archive", 7, free));
        Assert.Equal(enough, lacking is null);
        if (lacking is not null)
        {
            Assert.Contains("/station/working", lacking, StringComparison.Ordinal);
            Assert.Contains($"{2 * Capture + KeepFree + Small} bytes are needed", lacking, StringComparison.Ordinal);
            Assert.Contains($"{free} are free", lacking, StringComparison.Ordinal);
        }
    }

    [Theory]
    [InlineData(0, 0, null)]
    [InlineData(-1, 0, "/station/working")]
    [InlineData(0, -1, "/mnt/archive")]
    public void On_two_disks_there_must_be_room_once_on_each(int working, int archive, string? named)
    {
        const long Needed = Capture + KeepFree + Small;
        string? lacking = SpaceRule.Lacking(Capture, KeepFree, new("/station/working", 7, Needed + working), new("/mnt/archive", 8, Needed + archive));
        Assert.Equal(named is not null, lacking is not null);
        Assert.Contains(named ?? "", lacking ?? "", StringComparison.Ordinal);
    }

    [Fact]
    public void Sizes_at_the_end_of_the_range_do_not_overflow() =>
        Assert.NotNull(SpaceRule.Lacking(long.MaxValue, long.MaxValue, new("/w", 1, long.MaxValue), new("/w", 1, long.MaxValue)));

    [Fact]
    public void The_disk_of_a_folder_is_looked_at_where_it_is()
    {
        string folder = Directory.CreateTempSubdirectory("stationd-test-").FullName;
        try
        {
            string link = Path.Combine(folder, "link");
            Directory.CreateSymbolicLink(link, "/proc");
            Assert.InRange(DiskOf.Path(folder).FreeBytes, 1, long.MaxValue);
            Assert.NotEqual(DiskOf.Path(folder).Device, DiskOf.Path(link).Device);
            Assert.Equal(DiskOf.Path("/proc").Device, DiskOf.Path(link).Device);
            Assert.Throws<DirectoryNotFoundException>(() => DiskOf.Path(Path.Combine(folder, "gone")));
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }
}
