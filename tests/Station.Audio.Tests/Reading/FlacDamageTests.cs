using Station.Audio.Reading;
using Xunit;

namespace Station.Audio.Tests.Reading;

/// <summary>
/// FLAC files made by flac 1.4.2, damaged in every way of the table in <c>docs/formats/captures.md</c>. The oracle is the undamaged sound with
/// silence in the FLAC frames that were hit, whose places <c>flac -a</c> lists: every other sample must be equal and at its place.
/// </summary>
public sealed class FlacDamageTests : IDisposable
{
    private const int Rate = 44_100;
    private readonly TestFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    /// <summary>Row of the table, what is done to frame 4 of 10, and which frames are lost by it.</summary>
    public static TheoryData<string> Rows() =>
    [
        "FD1 bit in the sync code", "FD1 bit in the block size", "FD1 bit in the number", "FD1 bit in the header checksum", "FD2 bit in the body",
        "FD2 bit in the frame checksum", "FD3 run of zeros inside", "FD3 run of zeros over three frames", "FD4 bytes removed inside", "FD5 two frames removed",
        "FD6 junk between two frames", "FD6 zeros between two frames", "FD6 one zero between two frames", "FD6 junk inside a frame", "FD7 frame repeated", "FD8 reserved bit with right checksums", "FD9 first frame damaged",
        "FD9 first frame removed",
    ];

    [Theory, MemberData(nameof(Rows))]
    public void Damage_in_the_middle_costs_the_frames_it_hits_and_nothing_else(string row)
    {
        foreach (FlacStream stream in Streams())
        {
            (byte[] file, int[] lost) = Damage(row[4..], stream);
            foreach (byte[] each in new[] { file, WithoutTotal(file) })
            {
                ReadResult result = ReadResult.Of(_folder.Write(each, ".flac"));
                AssertSame(stream.Expected(lost), result.Words);
                CaptureRepair repair = Assert.Single(result.Repairs);
                Assert.Equal(CaptureRepair.Damaged, repair.Code);
                Assert.Equal(lost.Length > 0, repair.SoundInDoubt);
                Assert.Equal(stream.Stretches(lost), repair.EndFrame is long end ? [(repair.Frame!.Value, end)] : []);
                Assert.True(result.Layout.WholeFileIsMaster);
            }
        }
    }

    [Fact]
    public void FD10_a_cut_anywhere_ends_the_sound_behind_the_last_whole_frame()
    {
        FlacStream stream = Streams()[0];
        FlacStream.Block hit = stream.Blocks[6];
        foreach (long at in new[] { hit.Offset, hit.Offset + 1, hit.Offset + 3, hit.Offset + 7, hit.Offset + 100, hit.Offset + (hit.Bytes / 2), hit.End - 2, hit.End - 1 })
        {
            ReadResult result = ReadResult.Of(_folder.Write(stream.File[..(int)at], ".flac"));
            AssertSame(stream.Expected([], end: 6), result.Words);
            CaptureRepair repair = Assert.Single(result.Repairs);
            Assert.Equal(
                (CaptureRepair.Truncated, hit.Offset, hit.FirstFrame, stream.TotalFrames, true),
                (repair.Code, repair.ByteOffset, repair.Frame!.Value, repair.EndFrame!.Value, repair.SoundInDoubt));
            Assert.Contains(FormattableString.Invariant($"{(double)hit.FirstFrame / Rate:0.000} s"), repair.Message, StringComparison.Ordinal);

            // Without a total the rest of a frame is what tells; a cut between two frames shows by the MD5 alone.
            ReadResult unstated = ReadResult.Of(_folder.Write(WithoutTotal(stream.File[..(int)at]), ".flac"));
            AssertSame(stream.Expected([], end: 6), unstated.Words);
            Assert.Contains(unstated.Repairs, r => r.SoundInDoubt && r.Code == (at == hit.Offset ? CaptureRepair.Damaged : CaptureRepair.Truncated));
        }
    }

    [Theory]
    [InlineData(1)]
    [InlineData(128)]
    [InlineData(100_000)]
    public void FD22_zeros_or_junk_behind_the_last_frame_are_passed_over(int length)
    {
        foreach (FlacStream stream in Streams())
        {
            foreach (byte[] tail in new[] { new byte[length], WaveBytes.Words(3, length) })
            {
                ReadResult result = ReadResult.Of(_folder.Write([.. stream.File, .. tail], ".flac"));
                AssertSame(stream.Words, result.Words);
                CaptureRepair repair = Assert.Single(result.Repairs);
                Assert.Equal((CaptureRepair.Damaged, stream.File.LongLength, false), (repair.Code, repair.ByteOffset, repair.SoundInDoubt));
            }
        }
    }

    [Fact]
    public void FD23_a_tail_of_zeros_as_a_crash_leaves_it_ends_the_sound()
    {
        FlacStream stream = Streams()[0];
        int at = (int)stream.Blocks[7].Offset + 500;
        ReadResult result = ReadResult.Of(_folder.Write(stream.With(f => f.AsSpan(at).Clear()), ".flac"));
        AssertSame(stream.Expected([], end: 7), result.Words);
        CaptureRepair repair = Assert.Single(result.Repairs);
        Assert.Equal((CaptureRepair.Truncated, stream.Blocks[7].Offset, true), (repair.Code, repair.ByteOffset, repair.SoundInDoubt));
    }

    [Fact]
    public void FD11_a_wrong_md5_over_whole_frames_is_told_and_the_sound_read()
    {
        FlacStream stream = Streams()[0];
        ReadResult result = ReadResult.Of(_folder.Write(stream.With(f => f[FlacStream.Md5At + 3] ^= 1), ".flac"));
        AssertSame(stream.Words, result.Words);
        CaptureRepair repair = Assert.Single(result.Repairs);
        Assert.Equal((CaptureRepair.Damaged, (long)FlacStream.Md5At, true), (repair.Code, repair.ByteOffset, repair.SoundInDoubt));
        Assert.Contains(Tool.Md5(stream.Words), repair.Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(-1)]
    [InlineData(-20_000)]
    [InlineData(1)]
    [InlineData(20_000)]
    public void FD12_a_wrong_total_is_told_and_does_not_matter_when_the_md5_matches(int change)
    {
        FlacStream stream = Streams()[0];
        byte[] file = stream.With(f => FlacStream.SetTotal(f, stream.TotalFrames + change));
        ReadResult result = ReadResult.Of(_folder.Write(file, ".flac"));
        AssertSame(stream.Words, result.Words);
        CaptureRepair repair = Assert.Single(result.Repairs);
        Assert.Equal((CaptureRepair.Damaged, false), (repair.Code, repair.SoundInDoubt));
        Assert.Contains(FormattableString.Invariant($"{stream.TotalFrames + change} frames"), repair.Message, StringComparison.Ordinal);

        // Without the MD5 nothing vouches for the end.
        file.AsSpan(FlacStream.Md5At, 16).Clear();
        ReadResult unsure = ReadResult.Of(_folder.Write(file, ".flac"));
        AssertSame(stream.Words, unsure.Words);
        Assert.Contains(unsure.Repairs, r => r.SoundInDoubt && r.Code == (change > 0 ? CaptureRepair.Truncated : CaptureRepair.Damaged) && r.ByteOffset == stream.File.Length);
    }

    [Theory]
    [InlineData(0xFF_FFFF)]
    [InlineData(5000)]
    [InlineData(3)]
    public void FD13_a_metadata_block_that_lies_about_its_length_does_not_hide_the_sound(int length)
    {
        FlacStream stream = Streams()[0];
        ReadResult result = ReadResult.Of(_folder.Write(stream.With(f => (f[43], f[44], f[45]) = ((byte)(length >> 16), (byte)(length >> 8), (byte)length)), ".flac"));
        AssertSame(stream.Words, result.Words);
        Assert.False(Assert.Single(result.Repairs).SoundInDoubt);
    }

    [Fact]
    public void FD14_metadata_that_ends_inside_the_sound_is_found_out()
    {
        // The block length leads exactly to the third frame; the first two are sound all the same.
        FlacStream stream = Streams()[0];
        long length = stream.Blocks[2].Offset - LastMetadataBlock(stream) - 4;
        int at = (int)LastMetadataBlock(stream);
        ReadResult result = ReadResult.Of(_folder.Write(stream.With(f => (f[at + 1], f[at + 2], f[at + 3]) = ((byte)(length >> 16), (byte)(length >> 8), (byte)length)), ".flac"));
        AssertSame(stream.Words, result.Words);
        Assert.Contains("metadata blocks state a length", Assert.Single(result.Repairs).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void FD15_frames_of_another_format_to_the_end_are_refused()
    {
        FlacStream stream = Streams()[0];
        FlacStream other = FlacStream.OfFlac(_folder, stream.Words, 2, 2, 48_000, "-b", "4096");
        byte[] file = [.. stream.File[..(int)stream.Blocks[4].Offset], .. other.File[(int)other.Blocks[4].Offset..]];
        CaptureRefusal refusal = Refused(file);
        Assert.Equal((RefusalKind.BadInput, stream.Blocks[4].Offset), (refusal.Kind, refusal.ByteOffset));
        Assert.Contains("48000 Hz", refusal.Found, StringComparison.Ordinal);

        // Where the stream comes back, the foreign stretch is damage like any other.
        int[] lost = [4, 5];
        ReadResult result = ReadResult.Of(_folder.Write(
            [.. stream.File[..(int)stream.Blocks[4].Offset], .. other.File[(int)other.Blocks[4].Offset..(int)other.Blocks[6].Offset], .. stream.File[(int)stream.Blocks[6].Offset..]], ".flac"));
        AssertSame(stream.Expected(lost), result.Words);
    }

    [Fact]
    public void FD16_no_whole_frame_at_all_is_refused()
    {
        FlacStream stream = Streams()[0];
        CaptureRefusal cut = Refused(stream.File[..(int)(stream.Blocks[0].End - 1)]);
        CaptureRefusal zeros = Refused(stream.With(f => f.AsSpan((int)stream.Blocks[0].Offset).Clear()));
        Assert.All([cut, zeros], r => Assert.Equal((RefusalKind.BadInput, "at least one whole FLAC frame", stream.Blocks[0].Offset), (r.Kind, r.Expected, r.ByteOffset)));
    }

    [Fact]
    public void FD17_a_decoder_that_fails_on_frames_with_right_checksums_is_believed()
    {
        // A subframe of a reserved type (RFC 9639 §9.2.1), the CRC-16 made right again.
        FlacStream stream = Streams()[0];
        FlacStream.Block hit = stream.Blocks[4];
        CaptureRefusal refusal = Refused(stream.With(f =>
        {
            Assert.True(FlacFrameHeader.TryParse(f.AsSpan((int)hit.Offset, 16), out FlacFrameHeader header));
            f[hit.Offset + header.Bytes] = 2 << 1;
            Recrc(f, hit);
        }));
        Assert.Contains("exit code", refusal.Found, StringComparison.Ordinal);
        Assert.Equal(RefusalKind.BadInput, refusal.Kind);
    }

    [Fact]
    public void FD18_headers_planted_in_the_sound_do_not_divide_a_frame()
    {
        // Whole frames in the sound of a whole file; headers alone where damage makes the walk search inside a frame.
        FlacStream whole = Planted(bytes => bytes);
        ReadResult result = ReadResult.Of(_folder.Write(whole.File, ".flac"));
        Assert.Empty(result.Repairs);
        AssertSame(whole.Words, result.Words);

        FlacStream heads = Planted(_ => 8);
        int[] lost = [3];
        result = ReadResult.Of(_folder.Write(heads.With(f => f[heads.Blocks[3].End - 100] ^= 1), ".flac"));
        AssertSame(heads.Expected(lost), result.Words);
        CaptureRepair repair = Assert.Single(result.Repairs);
        Assert.Equal(heads.Stretches(lost), [(repair.Frame!.Value, repair.EndFrame!.Value)]);
    }

    /// <summary>Noise, which is stored as it is (VERBATIM), with frames of this very stream, or their beginnings, put into the left channel.</summary>
    private FlacStream Planted(Func<int, int> kept)
    {
        byte[] sound = new byte[60_000 * 4];
        new Random(11).NextBytes(sound);
        var random = new Random(12);
        byte[] frame = new byte[FlacSilence.MaxBytes];
        for (int at = 1000; at < sound.Length / 4; at += 100)
        {
            int bytes = kept(FlacSilence.Write(frame, variableBlocks: false, random.Next(20), 4096, Rate, 2, 16));
            for (int i = 0; i + 1 < bytes; i += 2)
            {
                // The most significant byte comes first in the subframe.
                int sample = 4 * (at + (i / 2));
                (sound[sample], sound[sample + 1]) = (frame[i + 1], frame[i]);
            }
        }

        FlacStream stream = FlacStream.OfFlac(_folder, sound, 2, 2, Rate, "-b", "4096");
        int headers = Enumerable.Range(0, stream.File.Length - 16).Count(i => FlacFrameHeader.TryParse(stream.File.AsSpan(i, 16), out _));
        Assert.InRange(headers, stream.Blocks.Count + 300, 10_000);
        return stream;
    }

    [Fact]
    public void FD19_more_places_than_can_be_listed_are_summed_up()
    {
        FlacStream stream = FlacStream.OfFlac(_folder, FlacStream.Sound(192 * 100, 2, 2, 8), 2, 2, Rate, "-b", "192");
        int[] lost = [.. Enumerable.Range(0, 49).Select(i => (2 * i) + 1)];
        ReadResult result = ReadResult.Of(_folder.Write(
            stream.With(f => Array.ForEach(lost, i => f[stream.Blocks[i].Offset + (stream.Blocks[i].Bytes / 2)] ^= 4)), ".flac"));
        AssertSame(stream.Expected(lost), result.Words);
        Assert.Equal(FlacWalk.MaxGaps + 1, result.Repairs.Count);
        CaptureRepair rest = result.Repairs[^1];
        Assert.StartsWith("29 more such places", rest.Message, StringComparison.Ordinal);
        Assert.Contains("5568 frames of sound", rest.Message, StringComparison.Ordinal); // 29 × 192
        Assert.Equal((stream.Blocks[41].FirstFrame, stream.Blocks[98].FirstFrame), (rest.Frame!.Value, rest.EndFrame!.Value));
    }

    [Fact]
    public void FD20_a_stream_whose_numbers_begin_late_is_taken_from_where_it_begins()
    {
        // As a recorder makes it that joined a running transmission: no total, no frame in front.
        FlacStream stream = Streams()[0];
        byte[] file = WithoutTotal(stream.AsVariable(1L << 35).File);
        ReadResult result = ReadResult.Of(_folder.Write(file, ".flac"));
        AssertSame(stream.Words, result.Words);
        Assert.Contains("34359738368 frames", Assert.Single(result.Repairs).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void FD21_a_silence_that_would_be_longer_than_the_limit_is_refused_by_number()
    {
        FlacStream stream = Streams()[0];
        FlacStream late = stream.AsVariable(100L * 3600 * Rate);
        FlacStream start = stream.AsVariable();
        byte[] file = WithoutTotal([.. start.File[..(int)start.Blocks[4].Offset], .. late.File[(int)late.Blocks[4].Offset..]]);
        CaptureRefusal refusal = Refused(file, new ReaderLimits { MaxDurationSeconds = 5 });
        Assert.Equal(RefusalKind.LimitReached, refusal.Kind);
        Assert.InRange(refusal.Seconds!.Value, 5, 6);
    }

    [Fact]
    public void Where_no_damage_may_be_it_is_refused_with_its_place_and_time()
    {
        FlacStream stream = Streams()[0];
        byte[] flipped = stream.With(f => f[stream.Blocks[5].Offset + 100] ^= 1);
        CaptureRefusal refusal = Refused(flipped, ReaderLimits.Whole);
        Assert.Equal((RefusalKind.BadInput, stream.Blocks[5].Offset, (long?)stream.Blocks[5].FirstFrame), (refusal.Kind, refusal.ByteOffset, refusal.Frame));
        byte[][] others =
        [
            stream.File[..^1], stream.File[..(int)stream.Blocks[3].Offset], stream.With(f => f[FlacStream.Md5At] ^= 1),
            [.. stream.File[..(int)stream.Blocks[3].Offset], .. stream.File[(int)stream.Blocks[4].Offset..]],
        ];
        Assert.All(others, o => Assert.Equal(RefusalKind.BadInput, Refused(o, ReaderLimits.Whole).Kind));
        string path = _folder.Write(flipped, ".flac");
        Assert.Throws<CaptureRefusedException>(() => Station.Audio.Encoding.FlacFile.DecodeWords(ReadResult.Codecs, path, _ => { }));
    }

    private FlacStream[] Streams()
    {
        FlacStream cd = FlacStream.OfFlac(_folder, FlacStream.Sound((9 * 4096) + 777, 2, 2, 1), 2, 2, Rate, "-b", "4096");
        FlacStream fine = FlacStream.OfFlac(_folder, FlacStream.Sound((9 * 4608) + 1, 3, 1, 2), 3, 1, 96_000, "-b", "4608", "-0");
        return [cd, fine, cd.AsVariable()];
    }

    private static (byte[] File, int[] Lost) Damage(string what, FlacStream stream)
    {
        byte[] file = stream.File;
        FlacStream.Block hit = stream.Blocks[4];
        (int from, int to) = ((int)hit.Offset, (int)hit.End);
        int middle = (from + to) / 2;
        Assert.True(FlacFrameHeader.TryParse(file.AsSpan(from, 16), out FlacFrameHeader header));
        return what switch
        {
            "bit in the sync code" => (stream.With(f => f[from + 1] ^= 4), [4]),
            "bit in the block size" => (stream.With(f => f[from + 2] ^= 0x20), [4]),
            "bit in the number" => (stream.With(f => f[from + 4] ^= 1), [4]),
            "bit in the header checksum" => (stream.With(f => f[from + header.Bytes - 1] ^= 0x80), [4]),
            "bit in the body" => (stream.With(f => f[middle] ^= 1), [4]),
            "bit in the frame checksum" => (stream.With(f => f[to - 1] ^= 1), [4]),
            "run of zeros inside" => (stream.With(f => f.AsSpan(from + 20, 1000).Clear()), [4]),
            "run of zeros over three frames" => (stream.With(f => f.AsSpan(middle, (int)stream.Blocks[6].Offset + 30 - middle).Clear()), [4, 5, 6]),
            "bytes removed inside" => ([.. file[..middle], .. file[(middle + 17)..]], [4]),
            "two frames removed" => ([.. file[..from], .. file[(int)stream.Blocks[6].Offset..]], [4, 5]),
            "junk between two frames" => ([.. file[..from], .. WaveBytes.Words(7, 3001), .. file[from..]], []),
            "zeros between two frames" => ([.. file[..from], .. new byte[5000], .. file[from..]], []),
            "one zero between two frames" => ([.. file[..from], 0, .. file[from..]], []),
            "junk inside a frame" => ([.. file[..middle], .. WaveBytes.Words(7, 3001), .. file[middle..]], [4]),
            "frame repeated" => ([.. file[..to], .. file[from..]], []),
            "reserved bit with right checksums" => (stream.With(f =>
            {
                f[from + 3] |= 1;
                f[from + header.Bytes - 1] = FlacStream.PlainCrc8(f.AsSpan(from, header.Bytes - 1));
                Recrc(f, hit);
            }), [4]),
            "first frame damaged" => (stream.With(f => f[stream.Blocks[0].Offset + 50] ^= 1), [0]),
            "first frame removed" => ([.. file[..(int)stream.Blocks[0].Offset], .. file[(int)stream.Blocks[1].Offset..]], [0]),
            _ => throw new ArgumentException(what, nameof(what)),
        };
    }

    private static void Recrc(byte[] file, FlacStream.Block block)
    {
        ushort crc = FlacStream.PlainCrc16(file.AsSpan((int)block.Offset, block.Bytes - 2));
        (file[block.End - 2], file[block.End - 1]) = ((byte)(crc >> 8), (byte)crc);
    }

    private static long LastMetadataBlock(FlacStream stream)
    {
        long at = 4;
        while ((stream.File[at] & 0x80) == 0)
        {
            at += 4 + (stream.File[at + 1] << 16 | stream.File[at + 2] << 8 | stream.File[at + 3]);
        }

        return at;
    }

    private static byte[] WithoutTotal(byte[] file)
    {
        byte[] copy = [.. file];
        FlacStream.SetTotal(copy, 0);
        return copy;
    }

    private CaptureRefusal Refused(byte[] content, ReaderLimits? limits = null)
    {
        using Microsoft.Win32.SafeHandles.SafeFileHandle file = File.OpenHandle(_folder.Write(content, ".flac"));
        using CaptureReader reader = CaptureReader.Open(file, "x.flac", limits ?? new ReaderLimits(), ReadResult.Codecs).Reader!;
        return Assert.Throws<CaptureRefusedException>(() =>
        {
            while (!reader.Read().IsEmpty)
            {
            }
        }).Refusal;
    }

    internal static void AssertSame(byte[] expected, byte[] actual)
    {
        int same = expected.AsSpan().CommonPrefixLength(actual);
        Assert.True(same == expected.Length && same == actual.Length, FormattableString.Invariant($"{expected.Length} bytes expected, {actual.Length} read, equal up to {same}."));
    }
}
