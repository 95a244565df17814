using Station.Audio.Meters;
using Station.Audio.Reading;
using Xunit;

namespace Station.Audio.Tests.Meters;

/// <summary>The course of the bands, against power spectra that follow from how the signals are made.</summary>
public sealed class EnvelopeBandsTests
{
    private const int RateHz = 44_100;
    private const int StepFrames = 882;

    [Theory]
    [InlineData(0.1f)]
    [InlineData(0.001f)]
    public void White_noise_of_one_channel_lies_half_in_the_sum_and_half_in_the_difference(float deviation)
    {
        // A flat density: the share of the power is the share of the bandwidth; a channel alone is half its power in either plane, over two channels a quarter.
        var random = new Random(5);
        LevelEnvelope envelope = Measure(2, 500, frame => (deviation * Gaussian(random), 0));
        for (int band = 3; band < EnvelopeBands.Count; band++)
        {
            double width = Lines(EnvelopeBands.EdgesHz[band], EnvelopeBands.EdgesHz[band + 1]) / 256.0;
            double expected = 10 * Math.Log10(deviation * deviation * width / 4);
            Assert.Equal(expected, MeanDb(envelope, 0, band), 0.3);
            Assert.Equal(expected, MeanDb(envelope, 1, band), 0.3);
        }
    }

    [Theory]
    [InlineData(1, 0)]
    [InlineData(-1, 1)]
    public void A_tone_lies_in_its_band_and_in_the_plane_of_its_polarity(int polarity, int plane)
    {
        LevelEnvelope envelope = Measure(2, 60, frame => Tone(frame) is var tone ? (tone, polarity * tone) : default);
        EnvelopeBands bands = Assert.IsType<EnvelopeBands>(envelope.Bands);
        Assert.Equal(10 * Math.Log10(0.25 * 0.25 / 2), MeanDb(envelope, plane, 6), 0.3);      // 2 kHz lies from 1,750 to 2,500 Hz
        Assert.True(bands.Db(bands.Codes(1 - plane, 6)[30]) < -90);       // what float32 leaves of a difference of equals, 2⁻²⁴ of −15 dB
        Assert.True(bands.Db(bands.Codes(plane, 3)[30]) < -100);

        static float Tone(int frame) => (float)(0.25 * Math.Sin(2 * Math.PI * 2067 * frame / RateHz));
    }

    [Fact]
    public void Every_step_has_a_code_however_many_there_are()
    {
        for (int steps = 1; steps <= 17; steps++)
        {
            LevelEnvelope envelope = Measure(1, steps, frame => (frame % 2 == 0 ? 0.5f : -0.5f, 0), extraFrames: steps % 3);
            Assert.Equal(envelope.Steps, envelope.Bands!.Steps);
            Assert.Equal(1, envelope.Bands.Planes);
        }
    }

    [Fact]
    public void Silence_and_bands_beyond_the_rate_are_the_lowest_code()
    {
        LevelEnvelope envelope = Measure(2, 20, _ => default);
        for (int band = 0; band < EnvelopeBands.Count; band++)
        {
            Assert.True(envelope.Bands!.Codes(0, band).IndexOfAnyExcept((byte)0) < 0);
        }
    }

    [Fact]
    public void Bands_are_cut_joined_written_and_read_with_their_envelope()
    {
        var random = new Random(9);
        LevelEnvelope envelope = Measure(2, 43, _ => (0.1f * Gaussian(random), 0.1f * Gaussian(random)), extraFrames: 5);
        LevelEnvelope joined = LevelEnvelope.Join([envelope.Slice(0, 20), envelope.Slice(20, envelope.Steps)]);
        using MemoryStream stream = new();
        envelope.Write(stream);
        stream.Position = 0;
        LevelEnvelope read = LevelEnvelope.Read(stream);
        for (int series = 0; series < 2 * EnvelopeBands.Count; series++)
        {
            ReadOnlySpan<byte> expected = envelope.Bands!.Codes(series / EnvelopeBands.Count, series % EnvelopeBands.Count);
            Assert.True(expected.SequenceEqual(joined.Bands!.Codes(series / EnvelopeBands.Count, series % EnvelopeBands.Count)));
            Assert.True(expected.SequenceEqual(read.Bands!.Codes(series / EnvelopeBands.Count, series % EnvelopeBands.Count)));
        }
    }

    [Theory]
    [InlineData(-11.3)]
    [InlineData(-0.2)]
    [InlineData(5.9)]
    public void Recorded_louder_all_codes_move_together(double gainDb)
    {
        float gain = (float)Math.Pow(10, gainDb / 20);
        EnvelopeBands plain = Of(1);
        EnvelopeBands moved = Of(gain);
        int shift = (int)Math.Round((gainDb + plain.OffsetDb - moved.OffsetDb) / EnvelopeBands.CodeDb);
        for (int series = 0; series < 2 * EnvelopeBands.Count; series++)
        {
            ReadOnlySpan<byte> codes = moved.Codes(series / EnvelopeBands.Count, series % EnvelopeBands.Count);
            int others = 0;
            for (int step = 0; step < codes.Length; step++)
            {
                others += codes[step] - plain.Codes(series / EnvelopeBands.Count, series % EnvelopeBands.Count)[step] == shift ? 0 : 1;
            }

            Assert.InRange(others, 0, 2);       // what lies on an edge to the last bit may fall to either side
        }

        static EnvelopeBands Of(float gain)
        {
            var random = new Random(21);
            return Measure(2, 200, _ => (gain * 0.1f * Gaussian(random), gain * 0.07f * Gaussian(random))).Bands!;
        }
    }

    [Fact]
    public void Cut_and_altered_bands_are_noticed()
    {
        var random = new Random(9);
        using MemoryStream stream = new();
        Measure(2, 9, _ => (0.1f * Gaussian(random), 0)).Write(stream);
        byte[] written = stream.ToArray();
        for (int at = written.Length - 32 - (22 * 9); at < written.Length; at++)
        {
            Assert.Throws<InvalidDataException>(() => LevelEnvelope.Read(new MemoryStream(written, 0, at)));
            byte[] altered = [.. written];
            altered[at] ^= 1;
            Assert.Throws<InvalidDataException>(() => LevelEnvelope.Read(new MemoryStream(altered)));
        }
    }

    private static int Lines(double fromHz, double toHz) => Enumerable.Range(1, 255).Count(line => line * RateHz / 512.0 >= fromHz && line * RateHz / 512.0 < toHz);

    private static double MeanDb(LevelEnvelope envelope, int plane, int band)
    {
        double sum = 0;
        ReadOnlySpan<byte> codes = envelope.Bands!.Codes(plane, band);
        foreach (byte code in codes)
        {
            sum += Math.Pow(10, envelope.Bands.Db(code) / 10);
        }

        return 10 * Math.Log10(sum / codes.Length);
    }

    private static float Gaussian(Random random) => (float)(Math.Sqrt(-2 * Math.Log(1 - random.NextDouble())) * Math.Cos(2 * Math.PI * random.NextDouble()));

    private static LevelEnvelope Measure(int channels, int steps, Func<int, (float Left, float Right)> wave, int extraFrames = 0)
    {
        int frames = (steps * StepFrames) + extraFrames;
        var format = new CaptureFormat { Container = "wav", Words = WordFormat.Float32, SampleRateHz = RateHz, BitsPerSample = 32, Channels = channels, Frames = frames };
        var meters = SideMeters.OfLevels(format, new MeterSettings());
        float[] samples = new float[frames * channels];
        for (int i = 0; i < frames; i++)
        {
            (float left, float right) = wave(i);
            samples[i * channels] = left;
            if (channels == 2)
            {
                samples[(2 * i) + 1] = right;
            }
        }

        meters.Add(new CaptureBlock(0, channels, new byte[frames * channels * 4], samples));
        return meters.Finish().Envelope;
    }
}
