using System.Buffers.Binary;
using System.Globalization;
using System.Text;
using Station.Audio.Synthesis;
using Xunit;

namespace Station.Audio.Tests.Synthesis;

public sealed class SideFileTests : IDisposable
{
    private readonly string _folder = Directory.CreateTempSubdirectory("synthesised-").FullName;

    public void Dispose() => Directory.Delete(_folder, recursive: true);

    [Theory]
    [InlineData(44100, 16, "pcm_s16le")]
    [InlineData(96000, 24, "pcm_s24le")]
    [InlineData(48000, 24, "pcm_s24le")]
    public void An_independent_decoder_reads_every_frame(int rate, int bits, string codec)
    {
        // Independent decoder: ffmpeg.
        var side = new SynthesisedSide(Plans.TwoShortTracks() with { SampleRateHz = rate, BitsPerSample = bits, RunOutSeconds = 2.2001 });
        string path = Path.Combine(_folder, "side.wav");
        using (FileStream file = File.Create(path))
        {
            side.WriteWav(file);
        }

        string seen = System.Text.Encoding.UTF8.GetString(
            Wav.Run("ffprobe", "-v", "error", "-show_entries", "stream=codec_name,sample_rate,channels,duration_ts", "-of", "csv=p=0", path)).Trim();
        Assert.Equal(string.Create(CultureInfo.InvariantCulture, $"{codec},{rate},2,{side.Truth.Frames}"), seen);
        byte[] decoded = Wav.Run("ffmpeg", "-v", "error", "-nostdin", "-i", path, "-f", codec[4..], "-c:a", codec, "-");
        Assert.Equal(side.Truth.Frames * 2 * bits / 8, decoded.Length);
        byte[] written = File.ReadAllBytes(path);
        Assert.True(decoded.AsSpan().SequenceEqual(written.AsSpan(written.Length - decoded.Length)));
    }

    [Fact]
    public void Header_is_finished_from_the_start_and_the_stream_need_not_seek()
    {
        var side = new SynthesisedSide(Plans.BlankGroove(0.5));
        byte[] file = Wav.BytesOf(side);
        Assert.Equal("RIFF", System.Text.Encoding.ASCII.GetString(file, 0, 4));
        Assert.Equal((uint)(file.Length - 8), BinaryPrimitives.ReadUInt32LittleEndian(file.AsSpan(4)));
        Assert.Equal("data", System.Text.Encoding.ASCII.GetString(file, 36, 4));
        Assert.Equal((uint)(file.Length - 44), BinaryPrimitives.ReadUInt32LittleEndian(file.AsSpan(40)));
        using var pipe = new ForwardOnlyStream();
        side.WriteWav(pipe);
        Assert.Equal(file.Length, pipe.Bytes);
    }

    [Fact]
    public void Sizes_beyond_32_bits_become_RF64()
    {
        // Three hours at 192 kHz and 24 bits. Layout: EBU Tech 3306 (ds64: RIFF size, data size, sample count, each 64 bits). From memory.
        const long Frames = 3L * 3600 * 192000;
        byte[] header = WavHeader.For(Frames, 192000, 24);
        Assert.Equal("RF64", System.Text.Encoding.ASCII.GetString(header, 0, 4));
        Assert.Equal("ds64", System.Text.Encoding.ASCII.GetString(header, 12, 4));
        Assert.Equal(header.Length + (Frames * 6) - 8, BinaryPrimitives.ReadInt64LittleEndian(header.AsSpan(20)));
        Assert.Equal(Frames * 6, BinaryPrimitives.ReadInt64LittleEndian(header.AsSpan(28)));
        Assert.Equal(Frames, BinaryPrimitives.ReadInt64LittleEndian(header.AsSpan(36)));

        // A file with a hole where the samples would be.
        string path = Path.Combine(_folder, "long.wav");
        using (FileStream file = File.Create(path))
        {
            file.Write(header);
            file.SetLength(header.Length + (Frames * 6));
        }

        string seen = System.Text.Encoding.UTF8.GetString(
            Wav.Run("ffprobe", "-v", "error", "-show_entries", "stream=codec_name,sample_rate,channels,duration_ts", "-of", "csv=p=0", path)).Trim();
        Assert.Equal(string.Create(CultureInfo.InvariantCulture, $"pcm_s24le,192000,2,{Frames}"), seen);
    }

    [Fact]
    public void Sixteen_bit_words_are_dithered_and_24_bit_words_are_not()
    {
        // Constant input between two codes: triangular dither of ±1 step gives its mean exactly and a variance of 1/4 step² (rounding
        // included) whatever the input (Lipshitz, Wannamaker and Vanderkooy, "Quantization and Dither: A Theoretical Survey", J. Audio
        // Eng. Soc. 40, 1992; from memory).
        const int Count = 200_000;
        foreach (double part in new[] { 0.0, 0.25, 0.5, 0.8 })
        {
            float[] samples = new float[Count];
            Array.Fill(samples, (float)((100 + part) / 32768));
            byte[] words = new byte[2 * Count];
            SeededRandom dither = new(5, RandomStream.Dither);
            Assert.Equal(words.Length, new Converter(16).Quantise(samples, words, ref dither));
            double sum = 0, squares = 0;
            for (int i = 0; i < Count; i++)
            {
                double error = BinaryPrimitives.ReadInt16LittleEndian(words.AsSpan(2 * i)) - (100 + part);
                sum += error;
                squares += error * error;
            }

            Assert.InRange(sum / Count, -0.01, 0.01);
            Assert.InRange(squares / Count, 0.24, 0.26);
        }

        byte[] one = new byte[3];
        SeededRandom none = new(5, RandomStream.Dither);
        new Converter(24).Quantise([-2.4f / 8388608], one, ref none);
        Assert.Equal([0xFE, 0xFF, 0xFF], one);
    }

    private sealed class ForwardOnlyStream : Stream
    {
        public long Bytes { get; private set; }

        public override bool CanRead => false;

        public override bool CanSeek => false;

        public override bool CanWrite => true;

        public override long Length => throw new NotSupportedException();

        public override long Position { get => throw new NotSupportedException(); set => throw new NotSupportedException(); }

        public override void Flush()
        {
        }

        public override int Read(byte[] buffer, int offset, int count) => throw new NotSupportedException();

        public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

        public override void SetLength(long value) => throw new NotSupportedException();

        public override void Write(byte[] buffer, int offset, int count) => Bytes += count;
    }
}
