using Station.Audio.Meters;
using Station.Audio.Reading;
using Xunit;

namespace Station.Audio.Tests.Meters;

public sealed class LevelMeterTests
{
    // AES17 (second-hand, instrument maker's glossary): 0 dB FS is the RMS of a 997 Hz sine whose peak is full scale. The rest computed:
    // RMS of square, triangle and two equal sines against it, and their crest factors.
    [Theory]
    [InlineData("sine", 0.0, 3.0103)]
    [InlineData("square", 3.0103, 0.0)]
    [InlineData("triangle", -1.7609, 4.7712)]
    [InlineData("two sines", -3.0103, 6.0206)]
    public void Rms_and_crest_of_full_scale_waves_are_those_of_AES17(string wave, double rmsDbfs, double crestDb)
    {
        const int Rate = 48_000;
        float[] samples = new float[10 * Rate];
        for (int i = 0; i < samples.Length; i++)
        {
            double cycle = 997.0 * i / Rate;
            double phase = cycle - Math.Floor(cycle);
            samples[i] = (float)(wave switch
            {
                "sine" => Math.Sin(2 * Math.PI * phase),
                "square" => phase < 0.5 ? 1 : -1,
                "triangle" => 1 - (4 * Math.Abs(phase - 0.5)),
                _ => (0.5 * Math.Sin(2 * Math.PI * 996.7 * i / Rate)) + (0.5 * Math.Sin(2 * Math.PI * 1203.1 * i / Rate)),
            });
        }

        SideReading reading = TestSignal.Read(samples, channels: 1, words: WordFormat.Float32, bits: 32);
        Assert.Equal(rmsDbfs, reading.RmsDbfs[0]!.Value, 0.002);
        Assert.Equal(crestDb, reading.CrestFactorDb[0]!.Value, 0.005);
        Assert.Equal(0, reading.SamplePeakDbfs[0]!.Value, 0.004);
    }

    // Computed: 20·log10(code / 2^(bits−1)).
    [Theory]
    [InlineData(16, 32767, -0.000265076)]
    [InlineData(16, -32768, 0.0)]
    [InlineData(16, 16384, -6.020599913)]
    [InlineData(16, 1, -90.308998699)]
    [InlineData(24, 8388607, -0.000001035)]
    [InlineData(24, 4194304, -6.020599913)]
    [InlineData(24, 1, -138.473798005)]
    public void The_peak_of_a_code_is_exact(int bits, int code, double dbfs)
    {
        float[] samples = new float[2000];
        samples[777] = (float)(code / Math.Pow(2, bits - 1));
        SideReading reading = TestSignal.Read(samples, channels: 1, bits: bits, words: bits == 16 ? WordFormat.Int16 : WordFormat.Int24);
        Assert.Equal(dbfs, reading.SamplePeakDbfs[0]!.Value, 1e-7);
        Assert.Equal([0L], reading.ConverterClipCount);
    }

    // Computed: DC is the mean; RMS² = AC² + DC², so 0.1 of DC under a sine of 0.1 adds 10·log10(1 + 2) dB.
    [Fact]
    public void Dc_is_the_mean_and_raises_the_rms()
    {
        float[] sine = TestSignal.Sine(1000, 0.1, 2, 48_000);
        SideReading reading = TestSignal.Read(TestSignal.Stereo([.. sine.Select(x => x + 0.1f)], [.. sine.Select(x => x - 0.01f)]), words: WordFormat.Float32, bits: 32);
        Assert.Equal(0.1, reading.DcOffset[0], 1e-6);
        Assert.Equal(-0.01, reading.DcOffset[1], 1e-6);
        Assert.Equal(-20 + (10 * Math.Log10(3)), reading.RmsDbfs[0]!.Value, 1e-4);
    }

    // Computed: equal sines φ apart correlate as cos φ.
    [Theory]
    [InlineData(0, 1.0)]
    [InlineData(45, 0.707107)]
    [InlineData(60, 0.5)]
    [InlineData(90, 0.0)]
    [InlineData(120, -0.5)]
    [InlineData(135, -0.707107)]
    [InlineData(180, -1.0)]
    public void Correlation_of_equal_sines_is_the_cosine_of_their_phase(double degrees, double expected)
    {
        float[] left = TestSignal.Sine(1000, 0.5, 2, 48_000);
        float[] right = TestSignal.Sine(1000, 0.25, 2, 48_000, degrees * Math.PI / 180);
        SideReading reading = TestSignal.Read(TestSignal.Stereo([.. left.Select(x => x + 0.2f)], right), words: WordFormat.Float32, bits: 32);
        Assert.Equal(expected, reading.Correlation!.Value, 1e-5);
        Assert.Equal(20 * Math.Log10(2), reading.BalanceDb!.Value, 1e-4);
    }

    // Computed: independent noise correlates as 1/√N; five of those.
    [Fact]
    public void Independent_noise_does_not_correlate()
    {
        Random random = new(7);
        float[] samples = [.. Enumerable.Range(0, 96_000).Select(_ => (float)(random.NextDouble() - 0.5))];
        Assert.InRange(TestSignal.Read(samples).Correlation!.Value, -5 * 0.0046, 5 * 0.0046);
    }

    [Fact]
    public void What_has_no_meaning_is_null()
    {
        float[] sine = TestSignal.Sine(1000, 0.5, 2, 48_000);
        SideReading half = TestSignal.Read(TestSignal.Stereo(sine, new float[sine.Length]));
        Assert.Null(half.Correlation);
        Assert.Null(half.BalanceDb);
        Assert.NotNull(half.SamplePeakDbfs[0]);
        Assert.Null(half.SamplePeakDbfs[1]);
        Assert.Null(half.RmsDbfs[1]);
        Assert.Null(half.CrestFactorDb[1]);

        SideReading constant = TestSignal.Read(TestSignal.Stereo(sine, [.. sine.Select(_ => 0.25f)]));
        Assert.Null(constant.Correlation);

        SideReading silent = TestSignal.Read(new float[96_000]);
        Assert.All(silent.SamplePeakDbfs.Concat(silent.RmsDbfs).Concat(silent.CrestFactorDb), value => Assert.Null(value));
        Assert.Null(silent.LoudnessLufs);
        Assert.Null(silent.MaxShortTermLufs);
        Assert.Null(silent.ProgrammePeakDbfs);
        Assert.Null(silent.Correlation);
        Assert.Null(silent.EffectiveBits);
        Assert.Equal([0.0, 0.0], silent.DcOffset);

        SideReading empty = TestSignal.Read([]);
        Assert.Equal(0, empty.Frames);
        Assert.Equal([0.0, 0.0], empty.DcOffset);
        Assert.Equal(0, empty.Envelope.Steps);

        SideReading mono = TestSignal.Read(sine, channels: 1);
        Assert.Single(mono.SamplePeakDbfs);
        Assert.Null(mono.Correlation);
        Assert.Null(mono.BalanceDb);
    }

    [Theory]
    [InlineData(24, 24)]
    [InlineData(16, 16)]
    [InlineData(20, 20)]
    [InlineData(8, 8)]
    public void The_depth_in_use_is_found_in_24_bit_words(int converterBits, int expected)
    {
        float[] samples = TestSignal.Converted(TestSignal.Sine(997, 0.9, 1, 48_000), converterBits);
        Assert.Equal(expected, TestSignal.Read(samples, channels: 1).EffectiveBits);
    }

    [Fact]
    public void The_size_of_the_blocks_does_not_matter()
    {
        Random random = new(3);
        float[] samples = TestSignal.Converted(
            Enumerable.Range(0, 2 * 70_001).Select(i => (float)((1.6 * Math.Sin(i / 2 * 0.031)) + (0.2 * random.NextDouble()))), 24);
        SideReading whole = TestSignal.Read(samples, blockFrames: 80_000);
        Assert.NotEmpty(whole.ConverterClips);
        foreach (int frames in new[] { 1, 7, 31, 4096 })
        {
            SideReading parts = TestSignal.Read(samples, blockFrames: frames);
            Assert.Equal(whole.SamplePeakDbfs, parts.SamplePeakDbfs);
            Assert.Equal(whole.RmsDbfs, parts.RmsDbfs);
            Assert.Equal(whole.CrestFactorDb, parts.CrestFactorDb);
            Assert.Equal(whole.DcOffset, parts.DcOffset);
            Assert.Equal(whole.LoudnessLufs, parts.LoudnessLufs);
            Assert.Equal(whole.MaxMomentaryLufs, parts.MaxMomentaryLufs);
            Assert.Equal(whole.BalanceDb, parts.BalanceDb);
            Assert.Equal(whole.Correlation, parts.Correlation);
            Assert.Equal(whole.ProgrammePeakDbfs, parts.ProgrammePeakDbfs);
            Assert.Equal(whole.ConverterClips, parts.ConverterClips);
            Assert.Equal(whole.ConverterClipCount, parts.ConverterClipCount);
            Assert.True(whole.Envelope.BandPower(1).SequenceEqual(parts.Envelope.BandPower(1)));
            Assert.True(whole.Envelope.Peak(0).SequenceEqual(parts.Envelope.Peak(0)));
        }
    }

    // The obvious slow way, beside the vector loop.
    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    public void The_envelope_matches_filters_written_plainly(int channels)
    {
        const int Rate = 44_100;
        Random random = new(11);
        float[] samples = [.. Enumerable.Range(0, channels * ((30 * 882) + 123)).Select(_ => (float)((0.8 * random.NextDouble()) - 0.4))];
        LevelEnvelope envelope = TestSignal.Read(samples, channels, Rate, words: WordFormat.Float32, bits: 32).Envelope;
        Assert.Equal(882, envelope.StepFrames);
        Assert.Equal(31, envelope.Steps);
        for (int channel = 0; channel < channels; channel++)
        {
            double[] x = [.. samples.Where((_, i) => i % channels == channel).Select(sample => (double)sample)];
            double[] band = Plainly(Plainly(x, GrooveBand.HighPass(Rate)), GrooveBand.LowPass(Rate));
            for (int step = 0; step < envelope.Steps; step++)
            {
                Range range = (step * 882)..Math.Min(x.Length, (step + 1) * 882);
                Assert.Equal(band[range].Average(y => y * y), envelope.BandPower(channel)[step], 1e-7);
                Assert.Equal(x[range].Average(y => y * y), envelope.WidePower(channel)[step], 1e-7);
                Assert.Equal(x[range].Max(Math.Abs), envelope.Peak(channel)[step], 1e-7);
            }
        }
    }

    // Own definition: ticks 20 dB over the music, five a second, must not move the programme's peak; nor may the needle's thump.
    [Fact]
    public void Ticks_and_the_needle_do_not_move_the_programme_peak()
    {
        const int Rate = 48_000;
        float[] music = TestSignal.Sine(440, TestSignal.Amplitude(-20), 30, Rate);
        float[] lead = [.. TestSignal.Sine(3000, 0.001, 6, Rate)];
        float[] samples = [.. lead, .. music];
        Random random = new(5);
        for (int i = 0; i < 150; i++)
        {
            int at = random.Next((6 * Rate) + 100, samples.Length - 100);
            for (int n = 0; n < 30; n++)
            {
                samples[at + n] += (float)(0.9 * Math.Exp(-n / 8.0));
            }
        }

        for (int n = 0; n < Rate / 4; n++)
        {
            samples[Rate + n] = (float)(0.99 * Math.Cos(2 * Math.PI * 30 * n / Rate));
        }

        SideReading reading = TestSignal.Read(samples, channels: 1);
        Assert.Equal(-20, reading.ProgrammePeakDbfs!.Value, 0.3);
        Assert.True(reading.SamplePeakDbfs[0] > -1);
    }

    [Fact]
    public void Invalid_samples_are_counted_placed_and_kept_out_of_the_other_measures()
    {
        float[] sine = TestSignal.Sine(1000, 0.5, 2, 48_000);
        float[] samples = TestSignal.Both(sine);
        samples[20] = float.NaN;
        samples[2001] = float.NegativeInfinity;
        samples[90_000] = 1.5f;
        samples[90_001] = 1e30f;
        SideReading reading = TestSignal.Read(samples, words: WordFormat.Float32, bits: 32);
        Assert.Equal(1, reading.Invalid.NotANumber);
        Assert.Equal(1, reading.Invalid.Infinite);
        Assert.Equal(2, reading.Invalid.BeyondFullScale);
        Assert.Equal(4, reading.Invalid.Total);
        Assert.Equal(1e30f, (float)reading.Invalid.LargestMagnitude);
        Assert.Equal(
            [
                new InvalidSample(0, 10, InvalidSampleKind.NotANumber),
                new InvalidSample(1, 1000, InvalidSampleKind.Infinite),
                new InvalidSample(0, 45_000, InvalidSampleKind.BeyondFullScale),
                new InvalidSample(1, 45_000, InvalidSampleKind.BeyondFullScale),
            ],
            reading.Invalid.First);
        Assert.Equal(20 * Math.Log10(1.5), reading.SamplePeakDbfs[0]!.Value, 1e-6);
        Assert.Equal(20 * Math.Log10(16), reading.SamplePeakDbfs[1]!.Value, 1e-6);
        Assert.Equal(-6.02, reading.RmsDbfs[0]!.Value, 0.01);
        Assert.True(double.IsFinite(reading.LoudnessLufs!.Value));
        Assert.Equal(-6.02, reading.ProgrammePeakDbfs!.Value, 0.01);
    }

    [Fact]
    public void A_capture_of_nothing_but_invalid_samples_gives_a_reading()
    {
        float[] samples = new float[96_000];
        Array.Fill(samples, float.NaN);
        SideReading reading = TestSignal.Read(samples, words: WordFormat.Float32, bits: 32);
        Assert.Equal(96_000, reading.Invalid.Total);
        Assert.Equal(1000, reading.Invalid.First.Length);
        Assert.Equal(47_999, reading.Invalid.LastFrame);
        Assert.Null(reading.SamplePeakDbfs[0]);
    }

    [Theory]
    [InlineData(1)]
    [InlineData(8)]
    [InlineData(31)]
    public void A_channel_is_taken_out_of_interleaved_frames(int frames)
    {
        float[] samples = [.. Enumerable.Range(0, 2 * frames).Select(i => i - 7.5f)];
        for (int channel = 0; channel < 2; channel++)
        {
            float[] target = new float[frames];
            SampleScan.CopyChannel(samples, 2, channel, target);
            Assert.Equal(samples.Where((_, i) => i % 2 == channel), target);
        }

        float[] only = new float[frames];
        SampleScan.CopyChannel(samples, 1, 0, only);
        Assert.Equal(samples[..frames], only);
    }

    [Fact]
    public void What_is_found_in_every_block_is_listed_to_a_bound()
    {
        const int Frames = 48_000 * 20;
        float[] samples = TestSignal.Converted(Enumerable.Range(0, 2 * 4096).Select(i => (float)(1.5 * Math.Sin(i / 2 * 0.05))), 24);
        byte[] words = new byte[samples.Length * 3];
        SideMeters meters = new(TestSignal.Format(WordFormat.Int24, 24, 2, 48_000, Frames), new MeterSettings { MaxClipRuns = 16 });
        meters.Add(new CaptureBlock(0, 2, words, samples));
        long before = GC.GetAllocatedBytesForCurrentThread();
        for (int at = 4096; at + 4096 <= Frames; at += 4096)
        {
            meters.Add(new CaptureBlock(at, 2, words, samples));
        }

        // Clipped tops and seams are listed, up to a bound; blocks themselves cost nothing (MemoryTests).
        Assert.InRange(GC.GetAllocatedBytesForCurrentThread() - before, 0, 4_000_000);
        Assert.NotEmpty(meters.Finish().ConverterClips);
    }

    [Fact]
    public void A_reading_is_finished_once_and_takes_its_own_channels_only()
    {
        SideMeters meters = new(TestSignal.Format(WordFormat.Int16, 16, 2, 48_000, 10), new MeterSettings());
        Assert.Throws<ArgumentException>(() => meters.Add(new CaptureBlock(0, 1, new byte[20], new float[10])));
        meters.Finish();
        Assert.Throws<InvalidOperationException>(() => meters.Add(new CaptureBlock(0, 2, new byte[40], new float[20])));
        Assert.Throws<InvalidOperationException>(() => meters.Finish());
    }

    private static double[] Plainly(double[] x, BiquadCoefficients c)
    {
        double[] y = new double[x.Length];
        for (int i = 0; i < x.Length; i++)
        {
            y[i] = (c.B0 * x[i])
                + (i > 0 ? (c.B1 * x[i - 1]) - (c.A1 * y[i - 1]) : 0)
                + (i > 1 ? (c.B2 * x[i - 2]) - (c.A2 * y[i - 2]) : 0);
        }

        return y;
    }
}
