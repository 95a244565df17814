using Station.Audio.Reading;
using Xunit;

namespace Station.Audio.Tests.Reading;

/// <summary>Headers, checksums, lengths and silent frames against RFC 9639, the reference implementation (flac 1.4.2) and ffmpeg.</summary>
public sealed class FlacFrameTests : IDisposable
{
    /// <summary>
    /// The one frame of the first worked example of RFC 9639 (appendix D.1): from memory, confirmed by computation, since both checksums come
    /// out right by the bitwise rules of §9.1.8 and §9.3.
    /// </summary>
    private static readonly byte[] WorkedExample = [0xFF, 0xF8, 0x69, 0x18, 0x00, 0x00, 0xBF, 0x03, 0x58, 0xFD, 0x03, 0x12, 0x8B, 0xAA, 0x9A];

    private readonly TestFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Fact]
    public void The_worked_example_of_the_standard_is_read()
    {
        Assert.Equal(0, FlacStream.PlainCrc16(WorkedExample));
        Assert.Equal(WorkedExample[6], FlacStream.PlainCrc8(WorkedExample.AsSpan(0, 6)));
        Assert.True(FlacFrameHeader.TryParse(WorkedExample, out FlacFrameHeader header));
        Assert.Equal(
            new FlacFrameHeader { VariableBlocks = false, BlockFrames = 1, SampleRateHz = 44_100, Channels = 2, SideChannel = -1, BitsPerSample = 16, Number = 0, Bytes = 7 },
            header);
        Assert.Equal(WorkedExample.Length, FlacFrameMeasure.Length([.. WorkedExample, 1, 2, 3], header, 16, out _));
        Assert.Equal(-1, FlacFrameMeasure.Length(WorkedExample.AsSpan(0, 14), header, 16, out _));
    }

    [Theory]
    [InlineData(0, 0xFE)] // sync
    [InlineData(1, 0xFA)] // the reserved bit behind it
    [InlineData(2, 0x09)] // block size 0
    [InlineData(2, 0x6F)] // rate 15
    [InlineData(3, 0xB8)] // channels 11
    [InlineData(3, 0x16)] // depth 3
    [InlineData(3, 0x19)] // the reserved bit behind it
    [InlineData(4, 0x80)] // a continuation byte in front
    [InlineData(4, 0xFF)] // eight ones
    public void Reserved_values_are_no_header_even_with_the_right_checksum(int at, byte value)
    {
        byte[] head = WorkedExample[..7];
        head[at] = value;
        head[6] = FlacStream.PlainCrc8(head.AsSpan(0, 6));
        Assert.False(FlacFrameHeader.TryParse(head, out _));
    }

    [Fact]
    public void Every_changed_bit_of_a_header_is_noticed()
    {
        for (int bit = 0; bit < 7 * 8; bit++)
        {
            byte[] head = WorkedExample[..7];
            head[bit / 8] ^= (byte)(1 << (bit % 8));
            Assert.False(FlacFrameHeader.TryParse(head, out _));
        }
    }

    [Theory]
    [InlineData(0)]
    [InlineData(0x7F)]
    [InlineData(0x80)]
    [InlineData(0x7FF)]
    [InlineData(0x800)]
    [InlineData(0xFFFF)]
    [InlineData(0x1_0000)]
    [InlineData(0x1F_FFFF)]
    [InlineData(0x20_0000)]
    [InlineData(0x3FF_FFFF)]
    [InlineData(0x400_0000)]
    [InlineData(0x7FFF_FFFF)]
    [InlineData(0x8000_0000)]
    [InlineData(0xF_FFFF_FFFF)]
    public void Numbers_up_to_36_bits_are_written_and_read(long number)
    {
        byte[] expected = new byte[7];
        int length = FlacStream.PlainNumber(number, expected);
        byte[] frame = new byte[FlacSilence.MaxBytes];
        int bytes = FlacSilence.Write(frame, variableBlocks: true, number, 4096, 37_800, 2, 24);
        Assert.Equal(expected[..length], frame[4..(4 + length)]);
        Assert.True(FlacFrameHeader.TryParse(frame, out FlacFrameHeader header));
        Assert.Equal((true, 4096, number, 2, 37_800, 24), (header.VariableBlocks, header.BlockFrames, header.Number, header.Channels, header.SampleRateHz, header.BitsPerSample));
        Assert.Equal(bytes, FlacFrameMeasure.Length(frame, header, 24, out _));

        // A fixed-blocksize stream has numbers of 31 bits at most (§9.1.5).
        FlacSilence.Write(frame, variableBlocks: false, number, 4096, 37_800, 2, 24);
        Assert.Equal(number <= int.MaxValue, FlacFrameHeader.TryParse(frame, out _));
    }

    [Fact]
    public void The_fast_checksum_is_the_plain_one_and_keys_compare_any_two_places()
    {
        var random = new Random(1);
        byte[] bytes = new byte[100_000];
        random.NextBytes(bytes);
        for (int i = 0; i < 50; i++)
        {
            int from = random.Next(bytes.Length);
            int length = random.Next(Math.Min(70, bytes.Length - from));
            Assert.Equal(FlacStream.PlainCrc16(bytes.AsSpan(from, length)), FlacCrc.Frame(0, bytes.AsSpan(from, length)));
        }

        for (int i = 0; i < 200; i++)
        {
            // Lengths on both sides of the 32 767 bytes after which the powers repeat.
            int from = random.Next(bytes.Length - 2);
            int to = from + 2 + random.Next(bytes.Length - from - 2);
            if (i % 2 == 0)
            {
                ushort crc = FlacCrc.Frame(0, bytes.AsSpan(from, to - from - 2));
                (bytes[to - 2], bytes[to - 1]) = ((byte)(crc >> 8), (byte)crc);
            }

            ushort start = FlacCrc.Key(FlacCrc.Frame(0, bytes.AsSpan(0, from)), from);
            ushort end = FlacCrc.Key(FlacCrc.Frame(0, bytes.AsSpan(0, to)), to);
            Assert.Equal(FlacStream.PlainCrc16(bytes.AsSpan(from, to - from)) == 0, start == end);
            Assert.True(i % 2 != 0 || start == end);
        }
    }

    public static TheoryData<string> Codings() =>
        ["-0", "-5", "-8", "-8 -e -p", "verbatim", "constant", "wasted", "24", "32", "mono", "65535", "192", "left_side", "right_side", "mid_side", "indep"];

    [Theory, MemberData(nameof(Codings))]
    public void A_frame_is_as_long_as_the_reference_says(string coding)
    {
        FlacStream stream = Coded(coding);
        foreach (FlacStream each in new[] { stream, stream.AsVariable(1L << 35) })
        {
            foreach (FlacStream.Block block in each.Blocks)
            {
                ReadOnlySpan<byte> rest = each.File.AsSpan((int)block.Offset);
                Assert.True(FlacFrameHeader.TryParse(rest[..Math.Min(16, rest.Length)], out FlacFrameHeader header));
                Assert.Equal(block.Frames, header.BlockFrames);
                Assert.Equal(block.Bytes, FlacFrameMeasure.Length(rest, header, header.BitsPerSample == 0 ? 8 * each.BytesPerFrame : header.BitsPerSample, out int read));
                Assert.Equal(block.Bytes, read);
                Assert.Equal(block.Assignment switch { "LEFT_SIDE" or "MID_SIDE" => 1, "RIGHT_SIDE" => 0, _ => -1 }, header.SideChannel);
            }
        }

        if (coding.EndsWith("_side", StringComparison.Ordinal))
        {
            Assert.Contains(stream.Blocks, b => string.Equals(b.Assignment, coding, StringComparison.OrdinalIgnoreCase));
        }
    }

    [Theory]
    [InlineData(2, 2, false)]
    [InlineData(2, 1, false)]
    [InlineData(3, 2, false)]
    [InlineData(3, 2, true)]
    [InlineData(4, 2, false)]
    public void A_stream_with_silent_frames_put_in_passes_the_reference_test(int wordBytes, int channels, bool variable)
    {
        FlacStream stream = FlacStream.OfFlac(_folder, FlacStream.Sound(5 * 4096, wordBytes, channels, 3), wordBytes, channels, 96_000, "-b", "4096");
        stream = variable ? stream.AsVariable() : stream;
        byte[] silent = new byte[FlacSilence.MaxBytes];
        FlacStream.Block hit = stream.Blocks[2];
        int bytes = FlacSilence.Write(silent, variable, variable ? hit.FirstFrame : 2, 4096, 96_000, channels, 8 * wordBytes);
        byte[] expected = stream.Expected([2]);
        byte[] file = [.. stream.File[..(int)hit.Offset], .. silent[..bytes], .. stream.File[(int)hit.End..]];
        Convert.FromHexString(Tool.Md5(expected)).CopyTo(file, FlacStream.Md5At);

        // The smallest frame STREAMINFO knows of is larger than this one: unknown.
        file.AsSpan(12, 6).Clear();
        string path = _folder.Write(file, ".flac");
        Tool.Run("flac", "-s", "-t", "-w", path);
        Assert.Equal(expected, Tool.Run("flac", "-s", "-d", "-c", "--force-raw-format", "--endian=little", "--sign=signed", path));
        if (wordBytes < 4)
        {
            Assert.Equal(expected, Tool.Decode(path, wordBytes == 2 ? "s16le" : "s24le")); // ffmpeg 5.1.9 does not decode 32-bit FLAC
        }
    }

    private FlacStream Coded(string coding)
    {
        byte[] sound = FlacStream.Sound(30_000, 2, 2, 5);
        switch (coding)
        {
            case "verbatim":
                new Random(9).NextBytes(sound);
                return FlacStream.OfFlac(_folder, sound, 2, 2, 44_100);
            case "constant":
                return FlacStream.OfFlac(_folder, new byte[120_000], 2, 2, 44_100);
            case "wasted":
                byte[] low = FlacStream.Sound(30_000, 3, 2, 5);
                for (int i = 0; i < low.Length; i += 3)
                {
                    low[i] = 0;
                }

                return FlacStream.OfFlac(_folder, low, 3, 2, 96_000);
            case "24":
                return FlacStream.OfFlac(_folder, FlacStream.Sound(30_000, 3, 2, 5), 3, 2, 192_000, "-8");
            case "32":
                return FlacStream.OfFlac(_folder, FlacStream.Sound(30_000, 4, 2, 5), 4, 2, 37_800, "-5");
            case "mono":
                return FlacStream.OfFlac(_folder, FlacStream.Sound(30_000, 2, 1, 5), 2, 1, 22_050);
            case "65535":
                return FlacStream.OfFlac(_folder, FlacStream.Sound(140_000, 2, 2, 5), 2, 2, 44_100, "-b", "65535");
            case "192":
                return FlacStream.OfFlac(_folder, sound, 2, 2, 48_000, "-b", "192");
            case "left_side" or "right_side" or "mid_side" or "indep":
                return FlacStream.OfFfmpeg(_folder, sound, 44_100, "-ch_mode", coding);
            default:
                return FlacStream.OfFlac(_folder, sound, 2, 2, 44_100, coding.Split(' '));
        }
    }
}
