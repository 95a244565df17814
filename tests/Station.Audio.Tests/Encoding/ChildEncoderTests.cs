using System.Diagnostics;
using Station.Audio.Encoding;
using Station.Audio.Reading;
using Station.Audio.Tests.Reading;
using Xunit;

namespace Station.Audio.Tests.Encoding;

public sealed class ChildEncoderTests : IDisposable
{
    private static readonly CodecTools Tools = CodecTools.FromPath();
    private static readonly PcmSpec Cd = new(WordFormat.Int16, 16, 44_100, 2);

    private readonly TestFolder _folder = new();

    public void Dispose() => _folder.Dispose();

    [Theory]
    [InlineData(WordFormat.Int16, 16, 2, "s16le")]
    [InlineData(WordFormat.Int16, 16, 1, "s16le")]
    [InlineData(WordFormat.Int24, 24, 2, "s24le")]
    [InlineData(WordFormat.Int24, 20, 1, "s24le")] // valid bits at the top of the word: the word is encoded
    [InlineData(WordFormat.Int32, 32, 2, null)] // ffmpeg 5.1.9 does not decode 32-bit FLAC
    [InlineData(WordFormat.Int24In32, 24, 2, null)]
    public void A_flac_holds_the_words_bit_for_bit_and_their_md5(WordFormat words, int bits, int channels, string? ffmpegName)
    {
        var pcm = new PcmSpec(words, bits, 96_000, channels);
        byte[] sound = Music(pcm, 50_000);
        string path = _folder.New(".flac");
        Encode(ChildEncoder.Flac(Tools, pcm, path), sound, pcm);

        FlacStreamInfo info = FlacFile.ReadStreamInfo(path);
        Assert.Equal((96_000, channels, 8 * pcm.BytesPerSample, 50_000L), (info.SampleRateHz, info.Channels, info.BitsPerSample, info.TotalFrames));
        Assert.Equal(Tool.Md5(sound), info.Md5); // RFC 9639 §8.2
        if (ffmpegName is not null)
        {
            Assert.Equal(sound, Tool.Decode(path, ffmpegName));
        }

        Assert.Equal(sound, Tool.Run("flac", "-d", "-c", "-s", "--force-raw-format", "--endian=little", "--sign=signed", path));
        using var decoded = new MemoryStream();
        CaptureFormat format = FlacFile.DecodeWords(Tools, path, decoded);
        Assert.Equal(sound, decoded.ToArray());
        Assert.Equal(channels, format.Channels);
    }

    [Fact]
    public void Unused_low_bytes_cost_a_flac_nothing()
    {
        // The reason why 24 bits in four bytes may be encoded as the 32-bit words they are.
        var narrow = new PcmSpec(WordFormat.Int24, 24, 96_000, 2);
        var wide = new PcmSpec(WordFormat.Int24In32, 24, 96_000, 2);
        byte[] sound = Music(narrow, 50_000);
        string a = _folder.New(".flac");
        string b = _folder.New(".flac");
        Encode(ChildEncoder.Flac(Tools, narrow, a), sound, narrow);
        Encode(ChildEncoder.Flac(Tools, wide, b), [.. sound.Chunk(3).SelectMany(w => new byte[] { 0, w[0], w[1], w[2] })], wide);
        Assert.InRange(new FileInfo(b).Length, 0, new FileInfo(a).Length * 1.03); // observed with flac 1.4.2: 1.5 %
    }

    // RFC 7845 §4: a decoder works at 48 kHz, drops pre-skip frames at the start (§4.2) and ends where the last page says (§4.4). ffmpeg honours all three.
    [Theory]
    [InlineData(44_100, 2, WordFormat.Int24, 100)]
    [InlineData(44_100, 2, WordFormat.Int16, 44_100)]
    [InlineData(44_100, 2, WordFormat.Int24, 50_001)]
    [InlineData(44_100, 1, WordFormat.Int16, 50_002)]
    [InlineData(48_000, 2, WordFormat.Int16, 48_001)]
    [InlineData(96_000, 2, WordFormat.Int24, 96_001)]
    [InlineData(96_000, 2, WordFormat.Int24, 96_003)]
    [InlineData(192_000, 1, WordFormat.Int24, 100_001)]
    public void An_opus_file_gives_back_the_frames_sent_at_48_kHz(int rateHz, int channels, WordFormat words, int frames)
    {
        var pcm = new PcmSpec(words, words == WordFormat.Int16 ? 16 : 24, rateHz, channels);
        byte[] sound = Music(pcm, frames);
        string path = _folder.New(".opus");
        Encode(ChildEncoder.Opus(Tools, pcm, path, 64 * channels), sound, pcm);
        Assert.Equal((long)Math.Round(frames * 48_000.0 / rateHz, MidpointRounding.AwayFromZero), Tool.Decode(path, "s16le").Length / (2 * channels));
        string again = _folder.New(".opus");
        Encode(ChildEncoder.Opus(Tools, pcm, again, 64 * channels), sound, pcm);
        Assert.Equal(File.ReadAllBytes(path), File.ReadAllBytes(again));
    }

    [Theory]
    [InlineData(44_100, 2, 44_100)]
    [InlineData(44_100, 1, 50_001)]
    [InlineData(96_000, 2, 96_003)]
    public void A_vorbis_file_gives_back_the_frames_sent(int rateHz, int channels, int frames)
    {
        var pcm = new PcmSpec(WordFormat.Int16, 16, rateHz, channels);
        byte[] sound = Music(pcm, frames);
        string path = _folder.New(".ogg");
        Encode(ChildEncoder.Vorbis(Tools, pcm, path, 6), sound, pcm);
        Assert.Equal(frames, Tool.Decode(path, "s16le").Length / (2 * channels));
        string again = _folder.New(".ogg");
        Encode(ChildEncoder.Vorbis(Tools, pcm, again, 6), sound, pcm);
        Assert.Equal(File.ReadAllBytes(path), File.ReadAllBytes(again));
    }

    [Fact]
    public void An_opus_or_vorbis_encoder_is_not_given_what_it_does_not_take()
    {
        var wide = new PcmSpec(WordFormat.Int24In32, 24, 96_000, 2);
        Assert.Throws<ArgumentException>(() => ChildEncoder.Opus(Tools, wide, _folder.New(".opus"), 128));
        Assert.Throws<ArgumentException>(() => ChildEncoder.Vorbis(Tools, wide with { Words = WordFormat.Int24 }, _folder.New(".ogg"), 6));
        Assert.Throws<ArgumentOutOfRangeException>(() => ChildEncoder.Opus(Tools, Cd, _folder.New(".opus"), 5));
        Assert.Throws<ArgumentOutOfRangeException>(() => ChildEncoder.Vorbis(Tools, Cd, _folder.New(".ogg"), 11));
        CodecMissingException missing = Assert.Throws<CodecMissingException>(() => ChildEncoder.Opus(Tools with { Opusenc = "" }, Cd, _folder.New(".opus"), 128));
        Assert.Contains("opus-tools", missing.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void Seek_points_are_added_without_touching_the_sound()
    {
        var pcm = new PcmSpec(WordFormat.Int16, 16, 44_100, 1);
        byte[] sound = Music(pcm, 44_100 * 25);
        string path = _folder.New(".flac");
        Encode(ChildEncoder.Flac(Tools, pcm, path), sound, pcm);
        FlacFile.AddSeekPoints(Tools, path, 10);
        string list = System.Text.Encoding.UTF8.GetString(Tool.Run("metaflac", "--list", "--block-type=SEEKTABLE", path));
        Assert.Contains("seek points: 3", list, StringComparison.Ordinal); // 0, 10 and 20 s of 25
        Assert.Equal(sound, Tool.Decode(path, "s16le"));
        Assert.Throws<EncoderFailedException>(() => FlacFile.AddSeekPoints(Tools, _folder.New(".flac")));
    }

    [Theory]
    [InlineData(0)]
    [InlineData(1)]
    [InlineData(47)]
    [InlineData(575)]
    [InlineData(576)]
    [InlineData(577)]
    [InlineData(623)]
    [InlineData(1104)]
    [InlineData(1105)]
    [InlineData(1151)]
    public void An_mp3_decodes_to_exactly_the_frames_it_was_made_from(int residue)
    {
        // 1152 frames are one MP3 frame (ISO/IEC 11172-3); the last, incomplete one is where lengths go wrong.
        foreach (Mp3Settings settings in new[] { Mp3Settings.Vbr(0), Mp3Settings.Cbr(192) })
        {
            int frames = (1152 * 40) + residue;
            string path = _folder.New(".mp3");
            byte[] sound = Music(Cd, frames);
            Encode(ChildEncoder.Mp3(Tools, Cd, path, settings), sound, Cd);
            Assert.Equal(frames, Tool.Decode(path, "s16le").Length / Cd.BytesPerFrame);
        }
    }

    [Theory]
    [InlineData(WordFormat.Int16, 1, 44_100)]
    [InlineData(WordFormat.Int24, 2, 44_100)]
    [InlineData(WordFormat.Int24In32, 2, 48_000)]
    [InlineData(WordFormat.Int32, 1, 48_000)]
    public void An_mp3_sounds_like_what_it_was_made_from_in_every_word_format(WordFormat words, int channels, int rateHz)
    {
        var pcm = new PcmSpec(words, 24, rateHz, channels);
        byte[] sound = Music(pcm, rateHz * 2);
        string path = _folder.New(".mp3");
        Encode(ChildEncoder.Mp3(Tools, pcm, path, Mp3Settings.Vbr(0)), sound, pcm);
        float[] expected = PlainConversion.ToFloats(sound, words, 8 * pcm.BytesPerSample);
        float[] actual = PlainConversion.ToFloats(Tool.Decode(path, "f32le"), WordFormat.Float32, 32);
        Assert.Equal(expected.Length, actual.Length);
        double signal = expected.Sum(x => (double)x * x);
        double error = expected.Zip(actual, (x, y) => ((double)x - y) * ((double)x - y)).Sum();
        Assert.InRange(10 * Math.Log10(signal / error), 30, 300); // dB; a wrong width, order or shift gives about 0
    }

    [Fact]
    public void An_mp3_of_a_faster_capture_comes_out_at_48_kHz()
    {
        var pcm = new PcmSpec(WordFormat.Int24, 24, 96_000, 2);
        string path = _folder.New(".mp3");
        Encode(ChildEncoder.Mp3(Tools, pcm, path, Mp3Settings.Vbr(4)), Music(pcm, 96_001), pcm);
        Assert.Equal((96_001 + 1) / 2, Tool.Decode(path, "s16le").Length / 4); // observed with lame 3.100: ceil(N/2)
    }

    [Fact]
    public void Floats_and_partial_frames_are_refused_before_anything_is_written()
    {
        string path = _folder.New(".x");
        Assert.Throws<ArgumentException>(() => ChildEncoder.Flac(Tools, new(WordFormat.Float32, 32, 48_000, 2), path));
        Assert.Throws<ArgumentException>(() => ChildEncoder.Mp3(Tools, new(WordFormat.Float64, 64, 48_000, 2), path, Mp3Settings.Vbr()));
        Assert.Throws<ArgumentOutOfRangeException>(() => ChildEncoder.Flac(Tools, Cd, path, 9));
        Assert.Throws<ArgumentOutOfRangeException>(() => Mp3Settings.Vbr(10));
        Assert.Throws<ArgumentOutOfRangeException>(() => Mp3Settings.Cbr(100));
        using (ChildEncoder encoder = ChildEncoder.Flac(Tools, Cd, path))
        {
            Assert.Throws<ArgumentException>(() => encoder.Write(new byte[6]));
        }

        Assert.False(File.Exists(path));
    }

    [Fact]
    public void Disposing_unfinished_ends_the_child_and_deletes_the_output()
    {
        foreach (string kind in new[] { "flac", "mp3" })
        {
            string path = _folder.New("." + kind);
            ChildEncoder encoder = kind == "flac" ? ChildEncoder.Flac(Tools, Cd, path) : ChildEncoder.Mp3(Tools, Cd, path, Mp3Settings.Vbr());
            int child = encoder.ChildId;
            encoder.Write(Music(Cd, 300_000));
            encoder.Dispose();
            AssertGone(child);
            Assert.False(File.Exists(path));
            Assert.Throws<ObjectDisposedException>(() => encoder.Write(new byte[4]));
        }
    }

    [Fact]
    public void An_output_that_exists_is_neither_overwritten_nor_deleted()
    {
        string path = _folder.Write([1, 2, 3], ".flac");
        Assert.Throws<IOException>(() => ChildEncoder.Flac(Tools, Cd, path));
        Assert.Throws<IOException>(() => ChildEncoder.Mp3(Tools, Cd, path, Mp3Settings.Vbr()));
        Assert.Equal([1, 2, 3], File.ReadAllBytes(path));
    }

    [Fact]
    public void An_output_in_a_folder_that_is_not_there_fails_with_what_the_encoder_said()
    {
        string path = Path.Combine(_folder.Path, "nowhere", "x");
        foreach (Func<ChildEncoder> start in new Func<ChildEncoder>[]
                 {
                     () => ChildEncoder.Flac(Tools, Cd, path),
                     () => ChildEncoder.Mp3(Tools, Cd, path, Mp3Settings.Vbr()),
                 })
        {
            EncoderFailedException e = FailWhileFeeding(start());
            Assert.NotEqual(0, e.ExitCode);
            Assert.NotEmpty(e.StandardError);
            Assert.Equal(path, e.OutputPath);
            Assert.DoesNotContain('\n', e.Message);
        }
    }

    [Theory]
    [InlineData("flac")]
    [InlineData("lame")]
    public void A_full_disk_fails(string program)
    {
        // /dev/full answers every write with "no space left on device" (full(4)). Reached through a link, since an encoder that fails
        // removes its output, and as root that would be the device itself.
        string path = _folder.New(".out");
        string script = Tool.Script(_folder, $"ln -s /dev/full '{path}'; exec {program} {(program == "flac" ? "-f " : "")}\"$@\"");
        ChildEncoder encoder = program == "flac"
            ? ChildEncoder.Flac(Tools with { Flac = script }, Cd, path)
            : ChildEncoder.Mp3(Tools with { Lame = script }, Cd, path, Mp3Settings.Vbr());
        EncoderFailedException e = FailWhileFeeding(encoder);
        Assert.NotEqual(0, e.ExitCode);
        Assert.NotEmpty(e.StandardError);
        Assert.False(File.Exists(path));
    }

    [Fact]
    public void A_disk_quota_reached_half_way_deletes_the_partial_output()
    {
        // ulimit -f counts blocks of 512 bytes (POSIX sh); beyond it the kernel ends the writer with SIGXFSZ.
        string path = _folder.New(".flac");
        string script = Tool.Script(_folder, "ulimit -f 64; exec flac \"$@\"");
        EncoderFailedException e = FailWhileFeeding(ChildEncoder.Flac(Tools with { Flac = script }, Cd, path));
        Assert.NotEqual(0, e.ExitCode);
        Assert.False(File.Exists(path));
    }

    [Fact]
    public void A_child_that_is_killed_is_reported_with_its_signal_and_its_output_deleted()
    {
        string path = _folder.New(".mp3");
        ChildEncoder encoder = ChildEncoder.Mp3(Tools, Cd, path, Mp3Settings.Vbr());
        encoder.Write(Music(Cd, 100_000));
        using (var child = Process.GetProcessById(encoder.ChildId))
        {
            child.Kill();
        }

        EncoderFailedException e = FailWhileFeeding(encoder);
        Assert.Equal(128 + 9, e.ExitCode); // SIGKILL, signal(7)
        Assert.False(File.Exists(path));
    }

    [Fact]
    public void A_child_that_succeeds_without_a_result_is_not_believed()
    {
        string empty = _folder.New(".mp3");
        string wrong = _folder.New(".flac");
        string silent = Tool.Script(_folder, "cat > /dev/null");
        Assert.Contains("left no content", FailAtFinish(ChildEncoder.Mp3(Tools with { Lame = silent }, Cd, empty, Mp3Settings.Vbr())), StringComparison.Ordinal);

        // Encodes all but the first frame.
        string losing = Tool.Script(_folder, "tail -c +5 | flac \"$@\"");
        Assert.Contains("the file states 99 frames", FailAtFinish(ChildEncoder.Flac(Tools with { Flac = losing }, Cd, wrong)), StringComparison.Ordinal);
        Assert.False(File.Exists(empty) || File.Exists(wrong));
    }

    [Fact]
    public void A_child_that_talks_without_end_neither_blocks_nor_fills_the_memory()
    {
        string script = Tool.Script(_folder, "i=0; while [ $i -lt 3000 ]; do echo \"line $i of a very long story that nobody needs to hear in full\" >&2; i=$((i+1)); done; echo the cause >&2; exit 3");
        EncoderFailedException e = FailWhileFeeding(ChildEncoder.Flac(Tools with { Flac = script }, Cd, _folder.New(".flac")));
        Assert.Equal(3, e.ExitCode);
        Assert.EndsWith("the cause", e.StandardError, StringComparison.Ordinal);
        Assert.InRange(e.StandardError.Length, 100, 8192);
    }

    private static string FailAtFinish(ChildEncoder encoder)
    {
        using (encoder)
        {
            encoder.Write(Music(Cd, 100));
            return Assert.Throws<EncoderFailedException>(encoder.Finish).Message;
        }
    }

    /// <summary>Goes on writing until the failure shows, in a write or at the end; then nothing must be left.</summary>
    private static EncoderFailedException FailWhileFeeding(ChildEncoder encoder)
    {
        int child = encoder.ChildId;
        byte[] noise = WaveBytes.Words(50, 400_000);
        EncoderFailedException e = Assert.Throws<EncoderFailedException>(() =>
        {
            for (int i = 0; i < 20; i++)
            {
                encoder.Write(noise);
            }

            encoder.Finish();
        });
        AssertGone(child);
        encoder.Dispose();
        return e;
    }

    private static void AssertGone(int child) =>
        Assert.False(Directory.Exists(FormattableString.Invariant($"/proc/{child}")), "The encoder still runs.");

    private static void Encode(ChildEncoder started, byte[] sound, PcmSpec pcm)
    {
        using ChildEncoder encoder = started;
        int child = encoder.ChildId;
        int step = 7001 * pcm.BytesPerFrame;
        for (int at = 0; at < sound.Length; at += step)
        {
            encoder.Write(sound.AsSpan(at, Math.Min(step, sound.Length - at)));
        }

        encoder.Finish();
        Assert.Equal(sound.Length / pcm.BytesPerFrame, encoder.Frames);
        AssertGone(child);
    }

    /// <summary>Two tones in each channel with a little noise, 24 bits at most.</summary>
    private static byte[] Music(PcmSpec pcm, int frames)
    {
        var random = new Random(60);
        int width = pcm.BytesPerSample;
        byte[] sound = new byte[frames * pcm.BytesPerFrame];
        for (int i = 0; i < frames * pcm.Channels; i++)
        {
            double t = (double)(i / pcm.Channels) / pcm.SampleRateHz;
            double value = (0.4 * Math.Sin(2 * Math.PI * 441 * t)) + (0.2 * Math.Sin((2 * Math.PI * 1234 * t) + (i % pcm.Channels)))
                + (0.001 * random.NextDouble());
            long word = (long)Math.Round(value * (1 << 23)) << 8;
            for (int b = 0; b < width; b++)
            {
                sound[(i * width) + b] = (byte)(word >> (8 * (4 - width + b)));
            }
        }

        return sound;
    }
}
