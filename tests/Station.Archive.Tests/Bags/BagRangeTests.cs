using Station.Archive.Bags;
using Station.Archive.Durability;
using Station.Archive.Tests.Support;

namespace Station.Archive.Tests.Bags;

/// <summary>A payload file that is one stretch of a source file: headers and trailers, which a hostile file makes gigabytes long.</summary>
public sealed class BagRangeTests : IDisposable
{
    private readonly TempFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData(0, 1)]
    [InlineData(0, 0)]
    [InlineData(17, 3_000_000)]
    [InlineData(2_999_999, 1)]
    [InlineData(3_000_000, 0)]
    public void The_stretch_and_no_more_is_kept(long offset, long bytes)
    {
        byte[] source = SampleBag.Noise(71, 3_000_000);
        bytes = Math.Min(bytes, source.Length - offset);
        File.WriteAllBytes(_folder["capture"], source);
        string bag = SampleBag.Publish(_folder, BagFile.FromFileRange("original-trailer.bin", _folder["capture"], offset, bytes));
        Assert.Equal(source[(int)offset..(int)(offset + bytes)], File.ReadAllBytes(Path.Combine(bag, "data", "original-trailer.bin")));
        Assert.True(BagReader.Check(bag, BagDepth.Full, CancellationToken.None).IsPristine);
    }

    [Fact]
    public void A_stretch_beyond_the_end_is_a_source_that_changed()
    {
        File.WriteAllBytes(_folder["capture"], SampleBag.Noise(72, 1000));
        SourceChangedException e = Assert.Throws<SourceChangedException>(
            () => SampleBag.Publish(_folder, BagFile.FromFileRange("original-trailer.bin", _folder["capture"], 900, 101)));
        Assert.Contains("expected 101 bytes", e.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void A_stretch_larger_than_any_buffer_is_copied_in_blocks()
    {
        const long Hole = 200_000_000;
        using (FileStream file = File.Create(_folder["capture"]))
        {
            file.SetLength(Hole);
        }

        long before = GC.GetAllocatedBytesForCurrentThread();
        string bag = SampleBag.Publish(_folder, BagFile.FromFileRange("original-header.part", _folder["capture"], 0, Hole));
        Assert.InRange(GC.GetAllocatedBytesForCurrentThread() - before, 0, 16 * 1024 * 1024);
        Assert.Equal(Hole, new FileInfo(Path.Combine(bag, "data", "original-header.part")).Length);
    }

    [Fact]
    public void Negative_stretches_are_refused()
    {
        Assert.Throws<ArgumentOutOfRangeException>(() => BagFile.FromFileRange("a", "b", -1, 1));
        Assert.Throws<ArgumentOutOfRangeException>(() => BagFile.FromFileRange("a", "b", 0, -1));
    }
}
