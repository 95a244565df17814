using Microsoft.Win32.SafeHandles;
using Station.Audio.Encoding;
using Station.Audio.Reading;
using Xunit;

namespace Station.Audio.Tests.Reading;

/// <summary>FLAC files made by flac 1.4.2, compared with what ffmpeg decodes from them; offsets of STREAMINFO fields from RFC 9639 §8.2.</summary>
public sealed class FlacReadingTests : IDisposable
{
    private const int Frames = (3 * CaptureReader.MaxBlockFrames) + 777;

    /// <summary>fLaC, block header, 18 bytes of STREAMINFO fields (RFC 9639 §8.2; observed in files of flac 1.4.2).</summary>
    private const int Md5At = 26;

    private readonly TestFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData(2, 16, 1, WordFormat.Int16, "s16le")]
    [InlineData(2, 16, 2, WordFormat.Int16, "s16le")]
    [InlineData(3, 24, 1, WordFormat.Int24, "s24le")]
    [InlineData(3, 24, 2, WordFormat.Int24, "s24le")]
    public void Words_and_samples_are_those_an_independent_decoder_finds(int wordBytes, int bits, int channels, WordFormat words, string ffmpegName)
    {
        byte[] sound = Sound(wordBytes, channels);
        string path = Encode(sound, wordBytes, channels);
        ReadResult result = ReadResult.Of(path);
        Assert.Equal(("flac", "flac", words), (result.Format.Container, result.Format.EncodingName, result.Format.Words));
        Assert.Equal((96_000, bits, channels, (long)Frames), (result.Format.SampleRateHz, result.Format.BitsPerSample, result.Format.Channels, result.Format.Frames));
        Assert.Empty(result.Repairs);
        Assert.True(result.Layout.WholeFileIsMaster);
        Assert.Equal(0, result.Layout.HeaderBytes + result.Layout.WordBytes + result.Layout.TrailerBytes);
        Assert.Equal(sound, result.Words);
        Assert.Equal(Tool.Decode(path, ffmpegName), result.Words);
        Assert.Equal(Tool.Decode(path, "f32le"), System.Runtime.InteropServices.MemoryMarshal.AsBytes(result.Samples.AsSpan()).ToArray());
    }

    [Fact]
    public void Thirty_two_bits_come_back_as_they_went_in()
    {
        // ffmpeg 5.1.9 does not decode 32-bit FLAC; the words that were encoded are the reference.
        byte[] sound = Sound(4, 2);
        ReadResult result = ReadResult.Of(Encode(sound, 4, 2));
        Assert.Equal((WordFormat.Int32, 32), (result.Format.Words, result.Format.BitsPerSample));
        Assert.Equal(sound, result.Words);
        Assert.Equal(PlainConversion.ToFloats(sound, WordFormat.Int32, 32), result.Samples);
    }

    [Fact]
    public void Depths_between_whole_bytes_are_refused()
    {
        string wav = _folder.Write(WaveBytes.Riff(WaveBytes.FmtExtensible(1, 2, 48_000, 3, 20), WaveBytes.Chunk("data", new byte[6000])));
        string path = _folder.New(".flac");
        Tool.Run("flac", "-s", "-o", path, wav);
        CaptureRefusal refusal = ReadResult.Refusal(path);
        Assert.Equal((RefusalKind.Unsupported, 20L, "16, 24 or 32 bits a sample", "20 bits"), (refusal.Kind, refusal.ByteOffset, refusal.Expected, refusal.Found));
    }

    [Fact]
    public void An_unset_md5_is_told_and_the_sound_read()
    {
        byte[] sound = Sound(2, 2);
        ReadResult result = ReadResult.Of(Change(Encode(sound, 2, 2), f => f.AsSpan(Md5At, 16).Clear()));
        Assert.Equal(sound, result.Words);
        CaptureRepair repair = Assert.Single(result.Repairs);
        Assert.Equal((CaptureRepair.Damaged, (long)Md5At, true), (repair.Code, repair.ByteOffset, repair.SoundInDoubt));
        Assert.Contains("cannot be checked", repair.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void An_unknown_total_is_read_to_the_end()
    {
        byte[] sound = Sound(2, 2);
        ReadResult result = ReadResult.Of(Change(Encode(sound, 2, 2), ClearTotal));
        Assert.Equal(0, result.Format.Frames);
        Assert.Equal(sound, result.Words);
        Assert.Empty(result.Repairs);
    }

    [Fact]
    public void What_stands_in_front_of_and_behind_the_stream_is_told_and_kept()
    {
        byte[] sound = Sound(2, 2);
        byte[] flac = File.ReadAllBytes(Encode(sound, 2, 2));
        ReadResult tagged = ReadResult.Of(_folder.Write([.. "ID3"u8, 4, 0, 0, 0, 0, 1, 5, .. new byte[133], .. flac]));
        Assert.Equal(sound, tagged.Words);
        Assert.False(Assert.Single(tagged.Repairs).SoundInDoubt);
        foreach (int length in new[] { 128, 900_000 })
        {
            ReadResult behind = ReadResult.Of(_folder.Write([.. flac, .. WaveBytes.Words(40, length)]));
            Assert.Equal(sound, behind.Words);
            CaptureRepair repair = Assert.Single(behind.Repairs);
            Assert.False(repair.SoundInDoubt);
            Assert.Contains("follows the last FLAC frame", repair.Message, StringComparison.Ordinal);
        }
    }

    [Fact]
    public void A_changed_byte_anywhere_gives_the_same_sound_or_is_told()
    {
        var random = new Random(70);
        byte[] sound = Sound(2, 2)[..60_000];
        string path = Encode(sound, 2, 2);
        int told = 0;
        for (int i = 0; i < 60; i++)
        {
            // Half of them in the header.
            string changed = Change(path, f => f[random.Next(i % 2 == 0 ? 60 : f.Length)] = (byte)random.Next(256));
            using SafeFileHandle file = File.OpenHandle(changed);
            CaptureOpening opening = CaptureReader.Open(file, "x", new ReaderLimits(), ReadResult.Codecs);
            using CaptureReader? reader = opening.Reader;
            using var words = new MemoryStream();
            try
            {
                for (CaptureBlock block = reader is null ? default : reader.Read(); !block.IsEmpty; block = reader!.Read())
                {
                    words.Write(block.Words);
                }

                bool inDoubt = opening.Refusal is not null || reader!.Repairs.Any(r => r.SoundInDoubt);
                Assert.True(inDoubt || words.ToArray().AsSpan().SequenceEqual(sound), "Other sound than was encoded, and nothing said.");
                told += inDoubt ? 1 : 0;
            }
            catch (CaptureRefusedException)
            {
                told++;
            }
        }

        Assert.InRange(told, 20, 59);
    }

    [Fact]
    public void A_stream_that_states_neither_total_nor_md5_is_told_to_hide_a_cut()
    {
        // At the end of a frame nothing shows that more was there, so the warning is all there can be.
        FlacStream stream = FlacStream.OfFlac(_folder, Sound(2, 2), 2, 2, 96_000);
        byte[] unstated = stream.With(f =>
        {
            ClearTotal(f);
            f.AsSpan(Md5At, 16).Clear();
        });
        CaptureRepair repair = Assert.Single(ReadResult.Of(_folder.Write(unstated[..(int)stream.Blocks[5].Offset])).Repairs);
        Assert.True(repair.SoundInDoubt);
        Assert.Contains("a missing end would not show", repair.Message, StringComparison.Ordinal);

        ReadResult inside = ReadResult.Of(_folder.Write(unstated[..(int)(stream.Blocks[5].Offset + 500)]));
        Assert.Equal(stream.Expected([], end: 5), inside.Words);
        Assert.Contains(inside.Repairs, r => r.Code == CaptureRepair.Truncated && r.Message.Contains("cut off", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData(4, 1, RefusalKind.BadInput, 4, "a block of type 1")] // PADDING first
    [InlineData(7, 33, RefusalKind.BadInput, 4, "33 bytes")]
    [InlineData(20, 0x0A, RefusalKind.Unsupported, 18, "6 channels")] // 3 bits of channels−1 = 5, top bit of bits−1
    [InlineData(21, 0x70, RefusalKind.Unsupported, 20, "8 bits")] // lower 4 bits of bits−1 = 7, upper 4 bits of the total
    [InlineData(18, 0, RefusalKind.LimitReached, 18, "Hz")]
    public void A_header_that_cannot_be_taken_is_refused(int at, byte value, RefusalKind kind, long offset, string found)
    {
        CaptureRefusal refusal = ReadResult.Refusal(Change(Encode(Sound(2, 2)[..40_000], 2, 2), f => f[at] = value));
        Assert.Equal((kind, offset), (refusal.Kind, refusal.ByteOffset));
        Assert.Contains(found, refusal.Found, StringComparison.Ordinal);
    }

    [Fact]
    public void A_header_that_is_cut_is_refused() =>
        Assert.Contains("42 bytes", ReadResult.Refusal(_folder.Write([.. "fLaC"u8, 0, 0, 0, 34, 1, 2])).Expected, StringComparison.Ordinal);

    [Fact]
    public void A_small_file_that_unfolds_to_hours_is_stopped_by_its_stated_total_or_while_decoding()
    {
        string path = Encode(new byte[96_000 * 4 * 60], 2, 2); // a minute of silence
        Assert.InRange(new FileInfo(path).Length, 1, 100_000);
        var limits = new ReaderLimits { MaxDurationSeconds = 20 };
        Assert.Equal(RefusalKind.LimitReached, ReadResult.Refusal(path, limits).Kind);

        CaptureRefusal refusal = ReadToRefusal(Change(path, ClearTotal), limits);
        Assert.Equal(RefusalKind.LimitReached, refusal.Kind);
        Assert.InRange(refusal.Seconds!.Value, 20, 21);
    }

    [Fact]
    public void What_the_sink_throws_comes_out_of_read_and_no_child_stays()
    {
        using SafeFileHandle file = File.OpenHandle(Encode(Sound(2, 2), 2, 2));
        using var reader = (FlacCaptureReader)CaptureReader.Open(
            file, "x", new ReaderLimits(), ReadResult.Codecs, _ => throw new InvalidOperationException("from the sink")).Reader!;
        Assert.Equal("from the sink", Assert.Throws<InvalidOperationException>(() => ReadAll(reader)).Message);
        AssertGone(reader.ChildId);
    }

    [Fact]
    public void Disposing_half_way_ends_the_decoder_and_the_calls_to_the_sink()
    {
        using SafeFileHandle file = File.OpenHandle(Encode(Sound(3, 2), 3, 2));
        int calls = 0;
        var reader = (FlacCaptureReader)CaptureReader.Open(
            file, "x", new ReaderLimits(), ReadResult.Codecs, _ => Interlocked.Increment(ref calls)).Reader!;
        Assert.False(reader.Read().IsEmpty);
        reader.Dispose();
        int after = calls;
        AssertGone(reader.ChildId);
        Assert.True(reader.Read().IsEmpty);
        Assert.Equal(after, calls);
    }

    [Fact]
    public void A_refusal_and_a_whole_read_leave_no_child()
    {
        string path = Encode(Sound(2, 2), 2, 2);
        foreach (string each in new[] { path, Change(path, f => f[Md5At] ^= 1) })
        {
            using SafeFileHandle file = File.OpenHandle(each);
            var reader = (FlacCaptureReader)CaptureReader.Open(file, "x", new ReaderLimits(), ReadResult.Codecs).Reader!;
            Record.Exception(() => ReadAll(reader));
            AssertGone(reader.ChildId);
            reader.Dispose();
        }
    }

    [Fact]
    public void A_missing_decoder_is_named_with_its_package()
    {
        using SafeFileHandle file = File.OpenHandle(Encode(Sound(2, 2)[..4000], 2, 2));
        using CaptureReader reader = CaptureReader.Open(file, "x", new ReaderLimits(), ReadResult.Codecs with { Flac = "" }).Reader!;
        CodecMissingException e = Assert.Throws<CodecMissingException>(() => reader.Read());
        Assert.Equal("flac", e.DebianPackage);
    }

    private static void AssertGone(int? childId)
    {
        Assert.NotNull(childId);
        Assert.False(Directory.Exists(FormattableString.Invariant($"/proc/{childId}")), "The decoder still runs.");
    }

    private static void ReadAll(CaptureReader reader)
    {
        while (!reader.Read().IsEmpty)
        {
        }
    }

    private static CaptureRefusal ReadToRefusal(string path, ReaderLimits? limits = null)
    {
        using SafeFileHandle file = File.OpenHandle(path);
        using CaptureReader reader = CaptureReader.Open(file, Path.GetFileName(path), limits ?? new ReaderLimits(), ReadResult.Codecs).Reader!;
        return Assert.Throws<CaptureRefusedException>(() => ReadAll(reader)).Refusal;
    }

    /// <summary>The last 36 of the 64 bits in front of the MD5.</summary>
    private static void ClearTotal(byte[] file)
    {
        file[21] &= 0xF0;
        file.AsSpan(22, 4).Clear();
    }

    /// <summary>A sweep with noise in the low bits: neither trivial nor incompressible.</summary>
    private static byte[] Sound(int wordBytes, int channels)
    {
        var random = new Random(wordBytes + (10 * channels));
        byte[] sound = new byte[Frames * channels * wordBytes];
        for (int i = 0; i < Frames * channels; i++)
        {
            double value = (0.6 * Math.Sin(i * (0.01 + (i * 1e-8)))) + (0.01 * random.NextDouble());
            long word = (long)(value * Math.Pow(2, (8 * wordBytes) - 1));
            for (int b = 0; b < wordBytes; b++)
            {
                sound[(i * wordBytes) + b] = (byte)(word >> (8 * b));
            }
        }

        return sound;
    }

    private string Encode(byte[] sound, int wordBytes, int channels)
    {
        string path = _folder.New(".flac");
        Tool.RunWithInput(
            "flac", sound, "-s", "--force-raw-format", "--endian=little", "--sign=signed",
            FormattableString.Invariant($"--channels={channels}"), FormattableString.Invariant($"--bps={8 * wordBytes}"), "--sample-rate=96000", "-o", path, "-");
        return path;
    }

    private string Change(string path, Action<byte[]> change)
    {
        byte[] copy = File.ReadAllBytes(path);
        change(copy);
        return _folder.Write(copy, ".flac");
    }
}
