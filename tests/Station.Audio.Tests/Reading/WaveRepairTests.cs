using Station.Audio.Reading;
using Xunit;

namespace Station.Audio.Tests.Reading;

/// <summary>Headers that say something else than the file. Each is read as far as it can be, and what was assumed is told.</summary>
public sealed class WaveRepairTests : IDisposable
{
    private const int FrameBytes = 6;
    private const int Frames = 48_000;

    private readonly TestFolder _folder = new();
    private readonly byte[] _fmt = WaveBytes.Fmt(1, 2, 48_000, 3, 24);
    private readonly byte[] _sound = WaveBytes.Words(20, Frames * FrameBytes);
    private readonly byte[] _list = WaveBytes.Chunk("LIST", [.. "INFO"u8, .. WaveBytes.Words(21, 60)]);

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData(0u)]
    [InlineData(0xFFFF_FFFFu)]
    public void A_header_that_was_never_completed_is_read_to_the_end(uint size)
    {
        byte[] file = WaveBytes.WithRiffSize(WaveBytes.Riff(_fmt, WaveBytes.Chunk("data", _sound, size)), size);
        CaptureRepair repair = Check(file, _sound, CaptureRepair.Damaged, soundInDoubt: true);
        Assert.Contains("never completed", repair.Message, StringComparison.Ordinal);
        Assert.Contains("the end of the file", repair.Message, StringComparison.Ordinal);
        Assert.Contains("48000 frames (1.000 s)", repair.Message, StringComparison.Ordinal);
        Assert.Equal(12 + _fmt.Length + 4, repair.ByteOffset);
    }

    [Fact]
    public void A_partial_last_frame_goes_to_the_trailer()
    {
        byte[] file = WaveBytes.WithRiffSize(WaveBytes.Riff(_fmt, WaveBytes.Chunk("data", [.. _sound, 1, 2, 3, 4, 5], 0, pad: false)), 0);
        ReadResult result = ReadResult.Of(_folder.Write(file));
        Assert.Equal(_sound, result.Words);
        Assert.Equal(5, result.Layout.TrailerBytes);
        Assert.Contains("The last 5 bytes are no whole frame", Assert.Single(result.Repairs).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Chunks_behind_a_sound_of_unknown_length_are_not_taken_for_sound()
    {
        byte[] file = WaveBytes.WithRiffSize(WaveBytes.Riff(_fmt, WaveBytes.Chunk("data", _sound, 0), _list, WaveBytes.Chunk("id3 ", new byte[11])), 0);
        CaptureRepair repair = Check(file, _sound, CaptureRepair.Damaged, soundInDoubt: true);
        Assert.Contains(
            FormattableString.Invariant($"the chunk at byte {12 + _fmt.Length + 8 + _sound.Length}"), repair.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void A_placeholder_size_with_chunks_behind_the_sound_misses_nothing()
    {
        byte[] file = WaveBytes.Riff(_fmt, WaveBytes.Chunk("data", _sound, 0x7FFF_FFFF), _list);
        CaptureRepair repair = Check(file, _sound, CaptureRepair.Damaged, soundInDoubt: true);
        Assert.Contains("data size 2147483647", repair.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Reserved_zeros_at_an_assumed_end_are_told()
    {
        byte[] sound = [.. _sound, .. new byte[2 * Frames * FrameBytes]];
        sound[_sound.Length - 1] = 9;
        byte[] file = WaveBytes.WithRiffSize(WaveBytes.Riff(_fmt, WaveBytes.Chunk("data", sound, 0)), 0);
        ReadResult result = ReadResult.Of(_folder.Write(file));
        Assert.Equal(sound, result.Words);
        Assert.Equal(2, result.Repairs.Count);
        Assert.Contains("The last 96000 frames (2.000 s) are exact zeros", result.Repairs[1].Message, StringComparison.Ordinal);
        Assert.Equal(Frames, result.Repairs[1].Frame);
    }

    [Fact]
    public void A_cut_file_says_what_is_missing()
    {
        byte[] whole = WaveBytes.Riff(_fmt, WaveBytes.Chunk("data", _sound), _list);
        int headerBytes = 12 + _fmt.Length + 8;
        const int kept = (12_000 * FrameBytes) + 4;
        ReadResult result = ReadResult.Of(_folder.Write(whole[..(headerBytes + kept)]));
        Assert.Equal(_sound[..(12_000 * FrameBytes)], result.Words);
        Assert.Equal((headerBytes, 4L), (result.Layout.HeaderBytes, result.Layout.TrailerBytes));
        CaptureRepair repair = Assert.Single(result.Repairs);
        Assert.Equal((CaptureRepair.Truncated, 12_000L, true), (repair.Code, repair.Frame, repair.SoundInDoubt));
        Assert.Contains("states 288000 bytes of sound (1.000 s) but the file ends after 72004 (0.250 s)", repair.Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("RF64", "rf64")]
    [InlineData("BW64", "bw64")]
    public void A_wide_file_shorter_than_its_ds64_is_cut(string id, string container)
    {
        byte[] file = WaveBytes.Wide(id, 40L << 30, 0, _fmt, WaveBytes.Chunk("data", _sound, 0xFFFF_FFFF));
        ReadResult result = ReadResult.Of(_folder.Write(file));
        Assert.Equal((container, (long)Frames), (result.Format.Container, result.Format.Frames));
        Assert.Equal(_sound, result.Words);
        Assert.Equal(CaptureRepair.Truncated, Assert.Single(result.Repairs).Code);
    }

    [Fact]
    public void A_wide_file_with_absurd_sizes_in_ds64_is_read_to_the_end()
    {
        foreach (long size in new[] { -1L, long.MinValue, long.MaxValue })
        {
            byte[] file = WaveBytes.Wide("RF64", size, size, _fmt, WaveBytes.Chunk("data", _sound, 0xFFFF_FFFF));
            Check(file, _sound, CaptureRepair.Truncated, soundInDoubt: true);
        }
    }

    [Fact]
    public void A_wide_file_without_ds64_or_with_an_empty_one_is_read_to_the_end()
    {
        byte[] without = WaveBytes.WithRiffSize(WaveBytes.Riff(_fmt, WaveBytes.Chunk("data", _sound, 0xFFFF_FFFF)), 0xFFFF_FFFF);
        "RF64"u8.CopyTo(without);
        Check(without, _sound, CaptureRepair.Damaged, soundInDoubt: true);
        Check(WaveBytes.Wide("RF64", 0, 0, _fmt, WaveBytes.Chunk("data", _sound, 0xFFFF_FFFF)), _sound, CaptureRepair.Damaged, soundInDoubt: true);
    }

    [Fact]
    public void A_32_bit_size_in_a_wide_file_is_used_as_it_stands()
    {
        // ITU-R BS.2088-2 §2.4 (second-hand): only 0xFFFFFFFF means "look in ds64".
        byte[] file = WaveBytes.Wide("BW64", _sound.Length, 7, _fmt, WaveBytes.Chunk("data", _sound));
        ReadResult result = ReadResult.Of(_folder.Write(file));
        Assert.Equal(_sound, result.Words);
        Assert.Empty(result.Repairs);

        CaptureRepair repair = Check(WaveBytes.Wide("BW64", 7, 7, _fmt, WaveBytes.Chunk("data", _sound)), _sound, CaptureRepair.Damaged, soundInDoubt: false);
        Assert.Contains("ds64 chunk states 7 bytes of sound and the data chunk 288000", repair.Message, StringComparison.Ordinal);
        byte[] without = WaveBytes.Riff(_fmt, WaveBytes.Chunk("data", _sound));
        "RF64"u8.CopyTo(without);
        Assert.Contains("no ds64 chunk", Check(without, _sound, CaptureRepair.Damaged, soundInDoubt: false).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void An_odd_chunk_without_its_pad_byte_is_walked()
    {
        byte[] bext = WaveBytes.Chunk("bext", WaveBytes.Words(22, 603), pad: false);
        CaptureRepair repair = Check(WaveBytes.Riff(bext, _fmt, WaveBytes.Chunk("data", _sound)), _sound, CaptureRepair.Damaged, soundInDoubt: false);
        Assert.Contains("'bext' has an odd length but no pad byte", repair.Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(0u)]
    [InlineData(0xFFFF_FFFFu)]
    [InlineData(100u)]
    [InlineData(0x7000_0000u)]
    public void A_wrong_size_of_the_whole_does_not_touch_the_sound(uint size)
    {
        byte[] file = WaveBytes.WithRiffSize(WaveBytes.Riff(_fmt, WaveBytes.Chunk("data", _sound), _list), size);
        CaptureRepair repair = Check(file, _sound, CaptureRepair.Damaged, soundInDoubt: false);
        Assert.Equal(4, repair.ByteOffset);
    }

    [Fact]
    public void A_second_data_chunk_is_told_and_left_out()
    {
        byte[] file = WaveBytes.Riff(_fmt, WaveBytes.Chunk("data", _sound), WaveBytes.Chunk("data", WaveBytes.Words(23, 6000)));
        Assert.Contains("second data chunk of 6000 bytes", Check(file, _sound, CaptureRepair.Damaged, soundInDoubt: true).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void An_empty_data_chunk_in_front_of_the_sound_is_passed_over()
    {
        ReadResult result = ReadResult.Of(_folder.Write(WaveBytes.Riff(_fmt, WaveBytes.Chunk("data", []), WaveBytes.Chunk("data", _sound))));
        Assert.Equal(_sound, result.Words);
        Assert.Empty(result.Repairs);
    }

    [Fact]
    public void A_second_format_that_differs_is_told()
    {
        byte[] file = WaveBytes.Riff(_fmt, WaveBytes.Fmt(1, 2, 44_100, 3, 24), WaveBytes.Chunk("data", _sound));
        Check(file, _sound, CaptureRepair.Damaged, soundInDoubt: true);
        ReadResult same = ReadResult.Of(_folder.Write(WaveBytes.Riff(_fmt, _fmt, WaveBytes.Chunk("data", _sound))));
        Assert.Empty(same.Repairs);
    }

    [Fact]
    public void A_chunk_cut_off_behind_the_sound_leaves_the_sound_whole()
    {
        byte[] whole = WaveBytes.Riff(_fmt, WaveBytes.Chunk("data", _sound), _list);
        Check(whole[..^20], _sound, CaptureRepair.Damaged, soundInDoubt: false);
    }

    [Fact]
    public void Bytes_behind_a_stated_sound_that_are_no_chunk_may_be_more_sound()
    {
        byte[] junk = new byte[5000];
        junk[0] = 1;
        CaptureRepair repair = Check([.. WaveBytes.Riff(_fmt, WaveBytes.Chunk("data", _sound)), .. junk], _sound, CaptureRepair.Damaged, soundInDoubt: true);
        Assert.Contains("5000 bytes at the end of the file are no chunk", repair.Message, StringComparison.Ordinal);
        CaptureRepair behindList = Check(
            [.. WaveBytes.Riff(_fmt, WaveBytes.Chunk("data", _sound), _list), .. junk], _sound, CaptureRepair.Damaged, soundInDoubt: false);
        Assert.Contains("no chunk", behindList.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void A_data_size_that_is_no_whole_number_of_frames_leaves_the_rest_out()
    {
        CaptureRepair repair = Check(WaveBytes.Riff(_fmt, WaveBytes.Chunk("data", [.. _sound, 1, 2])), _sound, CaptureRepair.Damaged, soundInDoubt: true);
        Assert.Contains("no whole number of frames of 6 bytes", repair.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void A_block_align_wider_than_the_bits_is_believed_and_told()
    {
        byte[] sound = new byte[8000];
        for (int i = 0; i < sound.Length; i++)
        {
            sound[i] = (byte)(i % 4 == 0 ? 0 : i);
        }

        CaptureRepair repair = Check(
            WaveBytes.Riff(WaveBytes.Fmt(1, 2, 48_000, 4, 24), WaveBytes.Chunk("data", sound)), sound, CaptureRepair.Damaged, soundInDoubt: true);
        Assert.Contains("24 bits a sample but 4 bytes", repair.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void A_data_size_that_overflowed_at_4_GiB_is_unwrapped()
    {
        // Sparse: 4.5 GiB of zeros that use no disk; only the header is looked at.
        const long dataBytes = (4L << 30) + (512L << 20);
        const int frames24 = 6;
        long whole = dataBytes / frames24 * frames24;
        string path = _folder.New(".wav");
        byte[] header = [.. "RIFF"u8, .. WaveBytes.U32(unchecked((uint)(whole + 36 + _list.Length))), .. "WAVE"u8, .. _fmt, .. "data"u8, .. WaveBytes.U32(unchecked((uint)whole))];
        using (var file = new FileStream(path, FileMode.CreateNew))
        {
            file.Write(header);
            file.SetLength(header.Length + whole);
            file.Seek(0, SeekOrigin.End);
            file.Write(_list);
        }

        using var handle = File.OpenHandle(path);
        using CaptureReader reader = CaptureReader.Open(handle, "x", new ReaderLimits { MaxDurationSeconds = 1e6 }, ReadResult.Codecs).Reader!;
        Assert.Equal(whole / frames24, reader.Format.Frames);
        Assert.Equal((header.Length, (long)_list.Length), (reader.Layout.HeaderBytes, reader.Layout.TrailerBytes));
        Assert.Contains("overflowed at 4 GiB", Assert.Single(reader.Repairs).Message, StringComparison.Ordinal);
    }

    private CaptureRepair Check(byte[] file, byte[] sound, string code, bool soundInDoubt)
    {
        ReadResult result = ReadResult.Of(_folder.Write(file));
        Assert.Equal(sound, result.Words);
        CaptureRepair repair = Assert.Single(result.Repairs);
        Assert.Equal((code, soundInDoubt), (repair.Code, repair.SoundInDoubt));
        return repair;
    }
}
