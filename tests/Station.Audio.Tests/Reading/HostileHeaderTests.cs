using Station.Audio.Reading;
using Xunit;

namespace Station.Audio.Tests.Reading;

/// <summary>Headers whose sizes are lies, or true and enormous: nothing is allocated by what they state.</summary>
public sealed class HostileHeaderTests : IDisposable
{
    private const long MaxGrowthBytes = 4 * 1024 * 1024;

    private readonly TestFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData("wav")]
    [InlineData("w64")]
    [InlineData("aiff")]
    public void A_header_of_gigabytes_is_walked_and_read_past_in_little_memory(string kind)
    {
        const uint hole = 3_000_000_000;
        byte[] sound = WaveBytes.Words(70, 4 * 1000);
        (byte[] before, byte[] after) = kind switch
        {
            "wav" => ((byte[])[.. "RIFF"u8, 0, 0, 0, 0, .. "WAVE"u8, .. "bext"u8, .. WaveBytes.U32(hole)],
                (byte[])[.. WaveBytes.Fmt(1, 2, 48_000, 2, 16), .. WaveBytes.Chunk("data", sound)]),
            "w64" => ([.. Wave64Bytes.FileStating(0), .. Wave64Bytes.Chunk("bext", [], 24 + (long)hole)],
                [.. Wave64Bytes.Fmt(WaveBytes.Fmt(1, 2, 48_000, 2, 16)), .. Wave64Bytes.Chunk("data", sound)]),
            _ => ([.. "FORM"u8, 0, 0, 0, 0, .. "AIFF"u8, .. "APPL"u8, .. AiffBytes.U32(hole)],
                [.. AiffBytes.Comm(2, 1000, 16, 48_000), .. AiffBytes.Ssnd(AiffBytes.Reversed(sound, 2))]),
        };
        string path = _folder.New(".wav");
        using (var file = new FileStream(path, FileMode.CreateNew))
        {
            file.Write(before);
            file.Seek(hole, SeekOrigin.Current);
            file.Write(after);
        }

        using var handle = File.OpenHandle(path);
        long allocated = GC.GetAllocatedBytesForCurrentThread();
        using CaptureReader reader = CaptureReader.Open(handle, "x", new ReaderLimits(), ReadResult.Codecs).Reader!;
        CaptureBlock block = reader.Read();
        Assert.Equal(sound, block.Words);
        Assert.InRange(reader.Layout.HeaderBytes, hole, hole + 200);
        Assert.InRange(GC.GetAllocatedBytesForCurrentThread() - allocated, 0, MaxGrowthBytes);
    }

    [Theory]
    [InlineData(0u)]
    [InlineData(1u)]
    [InlineData(0x7FFF_FFFFu)]
    [InlineData(0xFFFF_FFFEu)]
    [InlineData(0xFFFF_FFFFu)]
    public void A_size_that_is_a_lie_is_not_allocated_by(uint size)
    {
        byte[][] files =
        [
            WaveBytes.Riff(WaveBytes.Chunk("bext", [1, 2, 3, 4], size), WaveBytes.Chunk("data", [1, 2, 3, 4], size)),
            WaveBytes.Riff(WaveBytes.Chunk("fmt ", WaveBytes.Fmt(1, 2, 48_000, 2, 16)[8..], size), WaveBytes.Chunk("data", [1, 2, 3, 4], size)),
            WaveBytes.Wide("RF64", size, size, WaveBytes.Chunk("ds64", [], size), WaveBytes.Fmt(1, 2, 48_000, 2, 16), WaveBytes.Chunk("data", [1, 2, 3, 4], size)),
            Wave64Bytes.File(Wave64Bytes.Chunk("bext", [1, 2, 3, 4], size), Wave64Bytes.Chunk("data", [1, 2, 3, 4], unchecked((long)(0x8000_0000_0000_0000UL | size)))),
            Wave64Bytes.FileStating(long.MaxValue, Wave64Bytes.Chunk("fmt ", [1, 2], size), Wave64Bytes.Chunk("data", [1, 2, 3, 4], long.MaxValue - size)),
            AiffBytes.Form("AIFF", AiffBytes.Chunk("COMM", AiffBytes.Comm(2, size, 16, 48_000)[8..], size), AiffBytes.Ssnd([1, 2, 3, 4], size, offset: 0, blockSize: size)),
            AiffBytes.Form("AIFC", AiffBytes.Comm(2, size, 16, 48_000, "NONE"), AiffBytes.Chunk("SSND", [.. AiffBytes.U32(size), .. AiffBytes.U32(size), 1, 2, 3, 4], size)),
        ];
        foreach (byte[] file in files)
        {
            string path = _folder.Write(file);
            using var handle = File.OpenHandle(path);
            long allocated = GC.GetAllocatedBytesForCurrentThread();
            CaptureOpening opening = CaptureReader.Open(handle, "x", new ReaderLimits(), ReadResult.Codecs);
            Assert.True(opening.Reader is null != opening.Refusal is null);
            opening.Reader?.Dispose();
            Assert.InRange(GC.GetAllocatedBytesForCurrentThread() - allocated, 0, MaxGrowthBytes);
        }
    }

    // Chunks that each lead to the next are walked once, not once for each of them: the count of reads would otherwise be their square.
    [Theory]
    [InlineData("data")]
    [InlineData("JUNK")]
    public void Tens_of_thousands_of_empty_chunks_are_walked_once(string id)
    {
        byte[] empty = WaveBytes.Chunk(id, []);
        byte[] fmt = WaveBytes.Fmt(1, 2, 48_000, 2, 16);
        byte[] flood = [.. Enumerable.Repeat(empty, 60_000).SelectMany(c => c)];
        string path = _folder.Write(WaveBytes.Riff(fmt, flood));
        using var handle = File.OpenHandle(path);
        CaptureOpening opening = CaptureReader.Open(handle, "x", new ReaderLimits(), ReadResult.Codecs);
        using CaptureReader? reader = opening.Reader;

        // Empty chunks named data are either passed over one by one or, from where the question becomes too dear, taken for an unfinished sound.
        Assert.Equal(id == "data", reader is not null);
        Assert.True(reader is null || reader.Repairs.Any(r => r.SoundInDoubt));
    }
}
