using Microsoft.Win32.SafeHandles;
using Station.Audio.Encoding;
using Station.Audio.Reading;
using Xunit;

namespace Station.Audio.Tests.Reading;

/// <summary>Files made to cost much: the walk reads each byte a bounded number of times and holds a bounded number of them.</summary>
public sealed class FlacWalkerLimitsTests : IDisposable
{
    /// <summary>Each header of these says 65 535 samples of two channels of 32 bits, the largest frame there is.</summary>
    private const int FileBytes = 3_000_000;

    private readonly TestFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData("headers")]
    [InlineData("headers of one number")]
    [InlineData("headers with verbatim subframes")]
    [InlineData("headers with residuals")]
    [InlineData("sync codes")]
    [InlineData("zeros")]
    [InlineData("frames of one number")]
    [InlineData("frames that jump")]
    [InlineData("metadata blocks")]
    public void A_hostile_file_is_walked_in_linear_time_and_bounded_memory(string what)
    {
        byte[] bytes = Hostile(what);
        using SafeFileHandle file = File.OpenHandle(_folder.Write(bytes, ".flac"));
        long seen = 0;
        var window = new FlacWindow(file, bytes.Length, "x", b => seen += b.Length, CancellationToken.None);
        byte[] content = new byte[FlacStreamInfo.ContentBytes];
        byte[] head = [.. "fLaC"u8, 0x80, 0, 0, 34];
        bytes.AsSpan(head.Length, content.Length).CopyTo(content);
        long handedOn = 0;
        var walker = new FlacWalker(
            window, FlacStreamInfo.Parse(content), 42, lastBlock: what != "metadata blocks", b => handedOn += b.Length, _ => { }, TestContext.Current.CancellationToken);
        FlacWalk walk = walker.Run();
        Assert.Equal(bytes.Length, seen);
        Assert.InRange(window.Bytes.Read, bytes.Length, 2L * bytes.Length);      // at most twice: once more behind metadata that led nowhere
        Assert.InRange(window.Bytes.Held, 0, 8 << 20);
        Assert.InRange(walker.MeasuredBytes, 0, (4L * bytes.Length) + (20 << 20));
        Assert.Equal(what.StartsWith("frames", StringComparison.Ordinal), walk.SoundStart is not null);
        Assert.Equal(walk.SoundStart is not null, handedOn > 0);
    }

    [Fact]
    public void A_window_that_went_back_shows_each_byte_to_the_sink_once()
    {
        byte[] bytes = WaveBytes.Words(5, 500_000);
        using SafeFileHandle file = File.OpenHandle(_folder.Write(bytes));
        var seen = new MemoryStream();
        var window = new FlacWindow(file, bytes.Length, "x", b => seen.Write(b), CancellationToken.None);
        window.MoveTo(200_000);
        Assert.True(window.Extend());
        window.MoveTo(1000);
        while (window.Extend())
        {
            window.Drop(window.End - 100_000);
        }

        Assert.True(window.Slice(bytes.Length - 1000, bytes.Length).SequenceEqual(bytes.AsSpan(^1000..)));
        Assert.Equal(bytes, seen.ToArray());
    }

    private static byte[] Hostile(string what)
    {
        var file = new MemoryStream();
        ReadOnlySpan<byte> info = [16, 0, 16, 0, 0, 0, 0, 0xFF, 0xFF, 0xFF, 0x0A, 0xC4, 0x43, 0xF0]; // 44 100 Hz, 2 channels, 32 bits, no total
        file.Write([.. "fLaC"u8, 0x80, 0, 0, 34, .. info, .. new byte[20]]);
        byte[] frame = new byte[FlacSilence.MaxBytes];
        var random = new Random(4);
        for (int n = 0; file.Length < FileBytes; n++)
        {
            int number = what.Contains("one number", StringComparison.Ordinal) ? 5 : what == "frames that jump" ? n * 1000 : n;
            int whole = what == "zeros" ? 0 : FlacSilence.Write(frame, variableBlocks: false, number, 65_535, 44_100, 2, 32);
            int head = whole - 12; // two subframes of 5 bytes, CRC-16
            switch (what)
            {
                case "headers" or "headers of one number":
                    file.Write(frame.AsSpan(0, head));
                    break;
                case "headers with verbatim subframes":
                    file.Write([.. frame[..head], 2]);
                    break;
                case "headers with residuals":
                    // Fixed predictor of order 0, Rice codes, one partition, parameter 0; the bits behind are as good as any.
                    file.Write([.. frame[..head], 8 << 1, 0, (byte)random.Next(256)]);
                    break;
                case "sync codes":
                    file.Write([0xFF, 0xF8]);
                    break;
                case "zeros":
                    file.Write(new byte[1000]);
                    break;
                case "metadata blocks":
                    file.Write([1, 0, 0, 0]);
                    break;
                default:
                    file.Write(frame.AsSpan(0, whole));
                    break;
            }
        }

        return file.ToArray();
    }
}
