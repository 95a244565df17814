using Station.Audio.Meters;
using Station.Audio.Reading;
using Xunit;

namespace Station.Audio.Tests.Meters;

public sealed class ConverterClipTests
{
    // Computed from the wave: an overdriven sine spends (2/π)·acos(10^(−g/20)) of its samples at the ceiling, and each flat top lasts
    // fs/(π·f)·acos(10^(−g/20)) samples. The frequencies are a little off so that tops fall between samples in every way. Rows: overdrive dB, share, flat top at 100 Hz and 1 kHz in 48 kHz, and 1 kHz in 96 kHz.
    [Theory]
    [InlineData(0.1, 0.096417, 23.14, 2.314, 4.628)]
    [InlineData(0.5, 0.213943, 51.346, 5.135, 10.269)]
    [InlineData(1.0, 0.299657, 71.918, 7.192, 14.384)]
    [InlineData(3.0, 0.499244, 119.819, 11.982, 23.964)]
    [InlineData(6.0, 0.665794, 159.79, 15.979, 31.958)]
    [InlineData(12.0, 0.838357, 201.206, 20.121, 40.241)]
    public void Share_and_length_of_flat_tops_are_those_of_the_overdriven_sine(
        double overdriveDb, double share, double at100, double at1000, double at1000In96)
    {
        Check(100.03, 48_000, at100);
        Check(1000.03, 96_000, at1000In96);
        if (at1000 > 4)
        {
            Check(1000.03, 48_000, at1000);
        }

        void Check(double frequencyHz, int rateHz, double flatTop)
        {
            float[] samples = TestSignal.Converted(
                TestSignal.Sine(frequencyHz, TestSignal.Amplitude(overdriveDb), 10, rateHz, 0.1), 24);
            SideReading reading = TestSignal.Read(samples, channels: 1, rateHz: rateHz);
            double runs = 2 * frequencyHz * 10;
            Assert.Equal(runs, reading.ConverterClipCount[0], 2.0);
            Assert.Equal(share, (double)reading.ConverterClippedFrames[0] / samples.Length, 0.002);
            Assert.Equal(flatTop, (double)reading.ConverterClippedFrames[0] / reading.ConverterClipCount[0], 0.02 + (0.002 * flatTop));

            // A run covers the whole samples inside its flat top.
            int[] lengths = [.. reading.ConverterClips[1..^1].Select(run => run.Frames)];
            Assert.InRange(lengths.Min(), Math.Floor(flatTop), Math.Ceiling(flatTop));
            Assert.InRange(lengths.Max(), Math.Floor(flatTop), Math.Ceiling(flatTop));
        }
    }

    [Fact]
    public void Every_run_is_found_where_it_is()
    {
        const int Rate = 48_000;
        float[] samples = TestSignal.Converted(TestSignal.Sine(997, TestSignal.Amplitude(3), 2, Rate, 0.3), 16);
        List<(long First, int Frames, bool Positive)> expected = [];
        for (int i = 0; i < samples.Length;)
        {
            int end = i + 1;
            while (end < samples.Length && samples[end] == samples[i])
            {
                end++;
            }

            if (end - i >= 3 && samples[i] is 32767f / 32768 or -1f)
            {
                expected.Add((i, end - i, samples[i] > 0));
            }

            i = end;
        }

        SideReading reading = TestSignal.Read(TestSignal.Stereo(new float[samples.Length], samples), bits: 16, words: WordFormat.Int16);
        Assert.Equal(expected, reading.ConverterClips.Select(run => (run.FirstFrame, run.Frames, run.Positive)));
        Assert.All(reading.ConverterClips, run => Assert.Equal(1, run.Channel));
        Assert.Equal([0L, expected.Count], reading.ConverterClipCount);
    }

    // The estimate is exact for a sine in continuous time; what remains comes from the parabola through three samples that gives the slope.
    // Its remainder at the far end of the interval is 11/6 of the third difference (Newton's formula), for a sine a share 11/6·ω² of the
    // slope, ω in radians a sample, and the overshoot grows no faster than the slope: hence the tolerance, and 0.005 dB for 24-bit codes.
    [Theory]
    [InlineData(0.5)]
    [InlineData(1.0)]
    [InlineData(3.0)]
    [InlineData(6.0)]
    [InlineData(12.0)]
    public void The_overshoot_of_an_overdriven_sine_is_estimated(double overdriveDb)
    {
        foreach ((double frequencyHz, int rateHz) in new[] { (100.7, 48_000), (997.0, 48_000), (997.0, 96_000) })
        {
            double omega = 2 * Math.PI * frequencyHz / rateHz;
            double toleranceDb = (20 * Math.Log10(1 + (11.0 / 6 * omega * omega))) + 0.005;
            float[] samples = TestSignal.Converted(TestSignal.Sine(frequencyHz, TestSignal.Amplitude(overdriveDb), 3, rateHz), 24);
            SideReading reading = TestSignal.Read(samples, channels: 1, rateHz: rateHz);
            double[] estimates = [.. reading.ConverterClips[1..^1].Select(run => run.OvershootDb!.Value)];
            Assert.Equal(overdriveDb, estimates.Min(), toleranceDb);
            Assert.Equal(overdriveDb, estimates.Max(), toleranceDb);
        }
    }

    [Fact]
    public void Single_and_paired_full_scale_samples_are_not_clipping()
    {
        float[] samples = TestSignal.Converted(TestSignal.Sine(997, 0.5, 1, 48_000), 16);
        samples[1000] = 32767f / 32768;
        samples[2000] = samples[2001] = -1;
        SideReading reading = TestSignal.Read(samples, channels: 1, bits: 16, words: WordFormat.Int16);
        Assert.Empty(reading.ConverterClips);
        samples[3000] = samples[3001] = samples[3002] = -1;
        reading = TestSignal.Read(samples, channels: 1, bits: 16, words: WordFormat.Int16);
        ClipRun run = Assert.Single(reading.ConverterClips);
        Assert.Equal((3000L, 3, false), (run.FirstFrame, run.Frames, run.Positive));
    }

    [Theory]
    [InlineData(16)]
    [InlineData(24)]
    public void A_square_wave_below_the_ceiling_is_not_clipping(int bits)
    {
        float top = (float)((Math.Pow(2, bits - 1) - 2) / Math.Pow(2, bits - 1));
        float[] samples = [.. Enumerable.Range(0, 48_000).Select(i => i / 24 % 2 == 0 ? top : -top)];
        samples[0] = (float)Math.Pow(2, 1 - bits);
        Assert.Empty(TestSignal.Read(samples, channels: 1, bits: bits, words: bits == 16 ? WordFormat.Int16 : WordFormat.Int24).ConverterClips);
    }

    [Theory]
    [InlineData(16)]
    [InlineData(20)]
    [InlineData(24)]
    public void A_shallower_converter_in_24_bit_words_clips_at_its_own_full_scale(int converterBits)
    {
        float[] samples = TestSignal.Converted(TestSignal.Sine(997, 1.4, 1, 48_000), converterBits);
        SideReading reading = TestSignal.Read(samples, channels: 1);
        Assert.InRange(reading.ConverterClipCount[0], 1990, 1996);
        Assert.Contains(reading.ConverterClips, run => run.Positive);
        Assert.Contains(reading.ConverterClips, run => !run.Positive);
    }

    // 24 bits in use: the largest 16-bit code is a level like any other.
    [Fact]
    public void A_flat_top_at_the_16_bit_ceiling_is_not_the_ceiling_of_a_24_bit_converter()
    {
        float[] samples = TestSignal.Converted(TestSignal.Sine(997, 0.7, 1, 48_000), 24);
        Array.Fill(samples, 32767f / 32768, 1000, 10);
        Assert.Empty(TestSignal.Read(samples, channels: 1).ConverterClips);
    }

    // Some converters stop at −32767.
    [Fact]
    public void A_converter_that_stops_one_code_early_below_is_clipping_too()
    {
        float[] samples = [.. TestSignal.Converted(TestSignal.Sine(997, 1.4, 1, 48_000), 16).Select(x => Math.Max(x, -32767f / 32768))];
        SideReading reading = TestSignal.Read(samples, channels: 1, bits: 16, words: WordFormat.Int16);
        Assert.Contains(reading.ConverterClips, run => !run.Positive);
    }

    [Fact]
    public void An_8_bit_source_is_not_called_clipped_and_a_stuck_converter_is()
    {
        float[] coarse = TestSignal.Converted(TestSignal.Sine(50, 1, 1, 48_000), 8);
        Assert.Empty(TestSignal.Read(coarse, channels: 1, bits: 16, words: WordFormat.Int16).ConverterClips);
        float[] stuck = new float[48_000];
        Array.Fill(stuck, -1f);
        SideReading reading = TestSignal.Read(stuck, channels: 1, bits: 16, words: WordFormat.Int16);
        Assert.Equal(new ClipRun(0, 0, 48_000, Positive: false, OvershootDb: null), Assert.Single(reading.ConverterClips));
    }

    [Theory]
    [InlineData(1.0f)]
    [InlineData(32767f / 32768)]
    [InlineData(8388607f / 8388608)]
    public void Floats_from_any_converter_clip_within_a_16_bit_step_of_one(float ceiling)
    {
        float[] samples = [.. TestSignal.Sine(997, 1.4, 1, 48_000).Select(x => Math.Clamp(x, -ceiling, ceiling))];
        SideReading reading = TestSignal.Read(samples, channels: 1, bits: 32, words: WordFormat.Float32);
        Assert.InRange(reading.ConverterClipCount[0], 1990, 1996);
        Assert.Equal(0, reading.Invalid.Total);
    }

    [Fact]
    public void Very_many_runs_are_counted_exactly_and_listed_evenly()
    {
        float[] samples = TestSignal.Converted(TestSignal.Sine(997, 1.4, 30, 48_000), 16);
        SideReading reading = TestSignal.Read(samples, channels: 1, bits: 16, words: WordFormat.Int16);
        Assert.InRange(reading.ConverterClipCount[0], 59_810, 59_822);
        Assert.InRange(reading.ConverterClips.Length, 8192, 16_384);
        Assert.True(reading.ConverterClips[0].FirstFrame < 100);
        Assert.True(reading.ConverterClips[^1].FirstFrame > samples.Length - 1000);
    }
}
