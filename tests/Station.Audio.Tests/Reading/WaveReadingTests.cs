using Station.Audio.Reading;
using Xunit;

namespace Station.Audio.Tests.Reading;

public sealed class WaveReadingTests : IDisposable
{
    // More than two blocks and no round number, so that block borders and vector tails are crossed.
    private const int Frames = (2 * CaptureReader.MaxBlockFrames) + 1237;

    private readonly TestFolder _folder = new();

    /// <summary>Format tag, word bytes, valid bits, the words expected, ffmpeg's name for them.</summary>
    public static TheoryData<int, int, int, WordFormat, string, string> Encodings => new()
    {
        { 1, 2, 16, WordFormat.Int16, "pcm-s16le", "s16le" },
        { 1, 3, 24, WordFormat.Int24, "pcm-s24le", "s24le" },
        { 1, 4, 32, WordFormat.Int32, "pcm-s32le", "s32le" },
        { 3, 4, 32, WordFormat.Float32, "pcm-f32le", "f32le" },
        { 3, 8, 64, WordFormat.Float64, "pcm-f64le", "f64le" },
    };

    public void Dispose() => _folder.Dispose();

    [Theory, MemberData(nameof(Encodings))]
    public void Words_and_samples_of_every_container_and_form_of_header_are_those_an_independent_decoder_finds(
        int tag, int wordBytes, int bits, WordFormat words, string encoding, string ffmpegName)
    {
        foreach (int channels in new[] { 1, 2 })
        {
            byte[] sound = Sound(tag, wordBytes, channels);
            byte[] plain = WaveBytes.Fmt(tag, channels, 96_000, wordBytes, bits);
            byte[] extensible = WaveBytes.FmtExtensible(tag, channels, 96_000, wordBytes, bits);
            byte[] data = WaveBytes.Chunk("data", sound);
            byte[] wideData = WaveBytes.Chunk("data", sound, 0xFFFF_FFFF);
            (string Container, byte[] File)[] files =
            [
                ("wav", WaveBytes.Riff(plain, data)),
                ("wav", WaveBytes.Riff(extensible, data)),
                ("rf64", WaveBytes.Wide("RF64", sound.Length, Frames, extensible, wideData)),
                ("bw64", WaveBytes.Wide("BW64", sound.Length, 0, plain, wideData)),
            ];
            foreach ((string container, byte[] bytes) in files)
            {
                string path = _folder.Write(bytes);
                ReadResult result = ReadResult.Of(path);

                Assert.Equal((container, words, encoding), (result.Format.Container, result.Format.Words, result.Format.EncodingName));
                Assert.Equal((96_000, bits, channels, (long)Frames), (result.Format.SampleRateHz, result.Format.BitsPerSample, result.Format.Channels, result.Format.Frames));
                Assert.Empty(result.Repairs);
                Assert.Equal(sound, result.Words);
                Assert.Equal(PlainConversion.ToFloats(sound, words, 8 * wordBytes), result.Samples);
                if (container != "bw64") // ffmpeg 5.1.9 reads BW64 too, but one wide container is enough of it
                {
                    Assert.Equal(Tool.Decode(path, ffmpegName), result.Words);
                }
            }
        }
    }

    [Theory]
    [InlineData("pcm_s16le", "wav", WordFormat.Int16)]
    [InlineData("pcm_s24le", "wav", WordFormat.Int24)] // extensible header (observed in files of ffmpeg 5.1.9)
    [InlineData("pcm_s32le", "wav", WordFormat.Int32)]
    [InlineData("pcm_f32le", "wav", WordFormat.Float32)]
    [InlineData("pcm_f64le", "wav", WordFormat.Float64)]
    [InlineData("pcm_s24le", "rf64", WordFormat.Int24)]
    public void Files_of_another_writer_give_the_samples_that_writer_reads_back(string codec, string container, WordFormat words)
    {
        string path = _folder.New(".wav");
        Tool.Run(
            "ffmpeg", "-v", "error", "-f", "lavfi", "-i", "aevalsrc=0.7*sin(2*PI*997*t)|0.3*sin(2*PI*441*t):s=48000:d=1.5", "-c:a", codec,
            "-rf64", container == "rf64" ? "always" : "never", path);
        ReadResult result = ReadResult.Of(path);
        Assert.Equal((container, words, 72_000L), (result.Format.Container, result.Format.Words, result.Format.Frames));
        Assert.Empty(result.Repairs);
        Assert.Equal(Tool.Decode(path, codec[4..]), result.Words);
        if (words is not (WordFormat.Int32 or WordFormat.Float64)) // ffmpeg rounds those on its own way to float
        {
            Assert.Equal(Tool.Decode(path, "f32le"), System.Runtime.InteropServices.MemoryMarshal.AsBytes(result.Samples.AsSpan()).ToArray());
        }
    }

    [Fact]
    public void Twenty_four_bits_in_four_bytes_keep_their_words_and_their_scale()
    {
        byte[] sound = Int24In32(Frames * 2);
        string path = _folder.Write(WaveBytes.Riff(WaveBytes.FmtExtensible(1, 2, 48_000, 4, 24), WaveBytes.Chunk("data", sound)));
        ReadResult result = ReadResult.Of(path);
        Assert.Equal((WordFormat.Int24In32, 24, "pcm-s24in32le"), (result.Format.Words, result.Format.BitsPerSample, result.Format.EncodingName));
        Assert.Empty(result.Repairs);
        Assert.Equal(sound, result.Words);
        Assert.Equal(PlainConversion.ToFloats(sound, WordFormat.Int24In32, 32), result.Samples);

        // ffmpeg 5.1.9 takes the valid bits for the width of the word here; flac 1.4.2 is the independent reader that knows the form.
        string flac = _folder.New(".flac");
        Tool.Run("flac", "-s", "-o", flac, path);
        Assert.Equal([.. sound.Chunk(4).SelectMany(w => w[1..])], Tool.Decode(flac, "s24le"));
    }

    [Fact]
    public void A_used_low_byte_under_24_valid_bits_is_told()
    {
        byte[] sound = Int24In32(5000);
        sound[4000] = 1;
        string path = _folder.Write(WaveBytes.Riff(WaveBytes.FmtExtensible(1, 1, 48_000, 4, 24), WaveBytes.Chunk("data", sound)));
        ReadResult result = ReadResult.Of(path);
        Assert.Equal(sound, result.Words);
        CaptureRepair repair = Assert.Single(result.Repairs);
        Assert.Equal((CaptureRepair.Damaged, true), (repair.Code, repair.SoundInDoubt));
        Assert.Contains("lowest byte", repair.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Twenty_valid_bits_in_three_bytes_are_read_as_three_bytes()
    {
        byte[] sound = WaveBytes.Words(4, 3000);
        ReadResult result = ReadResult.Of(_folder.Write(WaveBytes.Riff(WaveBytes.FmtExtensible(1, 1, 48_000, 3, 20), WaveBytes.Chunk("data", sound))));
        Assert.Equal((WordFormat.Int24, 20), (result.Format.Words, result.Format.BitsPerSample));
        Assert.Empty(result.Repairs);
        Assert.Equal(PlainConversion.ToFloats(sound, WordFormat.Int24, 24), result.Samples);
    }

    [Fact]
    public void Integers_that_are_floats_in_disguise_are_told_and_read_as_stated()
    {
        byte[] sound = WaveBytes.Floats(5, 20_000, 4);
        ReadResult result = ReadResult.Of(_folder.Write(WaveBytes.Riff(WaveBytes.Fmt(1, 2, 48_000, 4, 32), WaveBytes.Chunk("data", sound))));
        Assert.Equal(WordFormat.Int32, result.Format.Words);
        Assert.Contains("look like 32-bit floats", Assert.Single(result.Repairs).Message, StringComparison.Ordinal);
    }

    [Fact]
    public void The_format_may_stand_behind_the_sound()
    {
        byte[] sound = WaveBytes.Words(6, 4 * 1001);
        byte[] fmt = WaveBytes.Fmt(1, 2, 44_100, 2, 16);
        ReadResult result = ReadResult.Of(_folder.Write(WaveBytes.Riff(WaveBytes.Chunk("data", sound), fmt)));
        Assert.Equal(sound, result.Words);
        Assert.Empty(result.Repairs);
        Assert.Equal(fmt.Length, result.Layout.TrailerBytes);
    }

    [Fact]
    public void A_broadcast_wave_with_odd_chunks_twice_over_is_read_around_them()
    {
        byte[] bext = WaveBytes.Chunk("bext", WaveBytes.Words(7, 603)); // EBU Tech 3285 v2: 602 bytes and the coding history
        byte[] list = WaveBytes.Chunk("LIST", [.. "INFO"u8, .. WaveBytes.Words(8, 33)]);
        byte[] id3 = WaveBytes.Chunk("id3 ", WaveBytes.Words(9, 129));
        byte[] sound = WaveBytes.Words(10, 3 * 1001); // odd
        byte[] file = WaveBytes.Riff(
            bext, list, WaveBytes.Fmt(1, 1, 48_000, 3, 24), id3, WaveBytes.Chunk("data", sound), list, bext, id3, WaveBytes.Chunk("cue ", WaveBytes.U32(0)));
        ReadResult result = ReadResult.Of(_folder.Write(file));
        Assert.Equal(sound, result.Words);
        Assert.Empty(result.Repairs);
    }

    [Fact]
    public void Thousands_of_empty_chunks_are_walked()
    {
        byte[] empty = [.. Enumerable.Repeat(WaveBytes.Chunk("JUNK", []), 20_000).SelectMany(c => c)];
        byte[] sound = WaveBytes.Words(11, 4000);
        ReadResult result = ReadResult.Of(_folder.Write(WaveBytes.Riff(empty, WaveBytes.Fmt(1, 2, 44_100, 2, 16), WaveBytes.Chunk("data", sound), empty)));
        Assert.Equal(sound, result.Words);
        Assert.Empty(result.Repairs);
    }

    [Fact]
    public void A_file_that_changes_its_length_while_it_is_read_is_an_io_error()
    {
        byte[] sound = WaveBytes.Words(12, 4 * 3 * CaptureReader.MaxBlockFrames);
        foreach (long change in new[] { 1L, -1L, -8L * CaptureReader.MaxBlockFrames })
        {
            string path = _folder.Write(WaveBytes.Riff(WaveBytes.Fmt(1, 2, 44_100, 2, 16), WaveBytes.Chunk("data", sound)));
            using var file = File.OpenHandle(path, FileMode.Open, FileAccess.ReadWrite);
            using CaptureReader reader = CaptureReader.Open(file, "x", new ReaderLimits(), ReadResult.Codecs).Reader!;
            Assert.False(reader.Read().IsEmpty);
            RandomAccess.SetLength(file, RandomAccess.GetLength(file) + change);
            Assert.Throws<IOException>(() =>
            {
                while (!reader.Read().IsEmpty)
                {
                }
            });
        }
    }

    [Fact]
    public void Sample_providers_get_the_same_samples_in_pieces_of_any_length()
    {
        byte[] sound = WaveBytes.Words(13, 3 * 2 * Frames);
        string path = _folder.Write(WaveBytes.Riff(WaveBytes.Fmt(1, 2, 96_000, 3, 24), WaveBytes.Chunk("data", sound)));
        float[] expected = PlainConversion.ToFloats(sound, WordFormat.Int24, 24);
        foreach (int piece in new[] { 2, 1000, 40_000, 1_000_000 })
        {
            using var file = File.OpenHandle(path);
            using CaptureReader reader = CaptureReader.Open(file, "x", new ReaderLimits(), ReadResult.Codecs).Reader!;
            var provider = new CaptureSampleProvider(reader);
            Assert.Equal((96_000, 2, 32), (provider.WaveFormat.SampleRate, provider.WaveFormat.Channels, provider.WaveFormat.BitsPerSample));
            var all = new List<float>();
            float[] buffer = new float[piece];
            int got;
            while ((got = provider.Read(buffer)) > 0)
            {
                Assert.True(got == piece || all.Count + got == expected.Length, "A short read before the end.");
                all.AddRange(buffer.AsSpan(0, got));
            }

            Assert.Equal(expected, all);
        }
    }

    private static byte[] Sound(int tag, int wordBytes, int channels) => tag == 3
        ? WaveBytes.Floats(1, Frames * channels, wordBytes)
        : WaveBytes.Words(2, Frames * channels * wordBytes);

    private static byte[] Int24In32(int samples)
    {
        byte[] sound = WaveBytes.Words(3, samples * 4);
        for (int i = 0; i < sound.Length; i += 4)
        {
            sound[i] = 0;
        }

        return sound;
    }
}
