using Station.Audio.Meters;
using Station.Audio.Reading;
using Xunit;

namespace Station.Audio.Tests.Meters;

/// <remarks>Places and lengths are those the test itself put in: computed truth.</remarks>
public sealed class LossMeterTests
{
    [Theory]
    [InlineData(8_000, 16, 2)]
    [InlineData(44_100, 16, 2)]
    [InlineData(44_100, 24, 1)]
    [InlineData(192_000, 24, 2)]
    public void Zeros_inside_sound_are_found_to_the_frame(int rate, int bits, int channels)
    {
        float[] samples = PlayedMusic.Stereo(rate, 2, bits: bits);
        int frames = rate / 200;
        Array.Clear(samples, 2 * rate, 2 * frames);
        SideReading reading = TestSignal.Read(channels == 2 ? samples : PlayedMusic.Channel(samples, 0), channels, rate, bits);
        ZeroRun run = Assert.Single(reading.Losses.ZeroRuns);

        // A sample of the music beside the run may be zero by chance.
        Assert.InRange(run.FirstFrame, rate - 1, rate);
        Assert.InRange(run.FirstFrame + run.Frames, rate + frames, rate + frames + 1);
    }

    [Fact]
    public void Silence_around_the_sound_and_silence_alone_are_no_loss()
    {
        float[] samples = [.. new float[40_000], .. PlayedMusic.Stereo(44_100, 1), .. new float[40_000]];
        Assert.Empty(TestSignal.Read(samples, rateHz: 44_100).Losses.ZeroRuns);
        LossReading silence = TestSignal.Read(new float[400_000], rateHz: 44_100).Losses;
        Assert.Empty(silence.ZeroRuns);
        Assert.Empty(silence.Repeats);
        Assert.Empty(silence.Joints);
    }

    [Fact]
    public void A_fade_into_the_last_bit_is_no_loss()
    {
        float[] samples = TestSignal.Sine(330, 0.1, 6, 44_100);
        for (int i = 0; i < samples.Length; i++)
        {
            samples[i] *= (float)Math.Exp(-i / 30_000.0);
        }

        LossReading losses = TestSignal.Read(TestSignal.Both(TestSignal.Converted(samples, 16)), rateHz: 44_100, bits: 16).Losses;
        Assert.Empty(losses.ZeroRuns);
        Assert.Empty(losses.Repeats);
    }

    [Theory]
    [InlineData(44_100, 16, 2, 256, 1)]
    [InlineData(44_100, 16, 2, 441, 1)]
    [InlineData(48_000, 24, 2, 2048, 1)]
    [InlineData(48_000, 24, 1, 480, 1)]
    [InlineData(48_000, 24, 2, 512, 3)]
    [InlineData(8_000, 16, 2, 160, 1)]
    [InlineData(192_000, 24, 2, 4096, 1)]
    public void A_buffer_delivered_again_is_found_to_the_frame(int rate, int bits, int channels, int buffer, int times)
    {
        float[] samples = PlayedMusic.Stereo(rate, 2, seed: 5, bits: bits);
        for (int i = 0; i < 2 * buffer * times; i++)
        {
            samples[(2 * rate) + i] = samples[(2 * rate) + i - (2 * buffer)];
        }

        SideReading reading = TestSignal.Read(channels == 2 ? samples : PlayedMusic.Channel(samples, 1), channels, rate, bits);
        RepeatedRun run = Assert.Single(reading.Losses.Repeats);
        Assert.Equal(buffer, run.LagFrames);

        // Frames beside it may agree by chance.
        Assert.InRange(run.FirstFrame, rate - 2, rate);
        Assert.InRange(run.FirstFrame + run.Frames, rate + (buffer * times), rate + (buffer * times) + 2);
    }

    [Theory]
    [InlineData(256)]
    [InlineData(441)]
    [InlineData(2048)]
    public void Rough_sound_delivered_again_need_not_jump(int buffer)
    {
        Random random = new(buffer);
        float[] samples = TestSignal.Converted([.. Enumerable.Range(0, 2 * 88_200).Select(_ => (float)(0.1 * ((2 * random.NextDouble()) - 1)))], 16);
        Array.Copy(samples, 2 * (44_100 - buffer), samples, 2 * 44_100, 2 * buffer);
        RepeatedRun run = Assert.Single(TestSignal.Read(samples, rateHz: 44_100, bits: 16).Losses.Repeats);
        Assert.Equal((buffer, 44_100L, (long)buffer), (run.LagFrames, run.FirstFrame, run.Frames));
    }

    [Theory]
    [InlineData(100)]
    [InlineData(441)]
    [InlineData(1000)]
    public void A_periodic_tone_is_no_loss(int period)
    {
        float[] tone = TestSignal.Converted(TestSignal.Sine(44_100.0 / period, 0.5, 3, 44_100), 16);
        LossReading losses = TestSignal.Read([.. new float[8000], .. TestSignal.Both(tone), .. new float[8000]], rateHz: 44_100, bits: 16).Losses;
        Assert.Empty(losses.Repeats);
    }

    [Theory]
    [InlineData(44_100, 16, 2)]
    [InlineData(44_100, 24, 1)]
    [InlineData(96_000, 24, 2)]
    public void Missing_frames_leave_a_joint_at_the_frame(int rate, int bits, int channels)
    {
        float[] samples = PlayedMusic.Stereo(rate, 6, seed: 3, bits: bits);
        int[] places = [rate, 2 * rate, (7 * rate) / 2];
        foreach (int place in places)
        {
            samples = PlayedMusic.Without(samples, place, 300);
        }

        SideReading reading = TestSignal.Read(channels == 2 ? samples : PlayedMusic.Channel(samples, 0), channels, rate, bits);
        Assert.Equal(places.Select(place => (long)place), reading.Losses.Joints.Select(joint => joint.Frame));
    }

    [Theory]
    [InlineData(WordFormat.Int24)]
    [InlineData(WordFormat.Float32)]
    public void The_reading_does_not_depend_on_the_blocks(WordFormat words)
    {
        const int Rate = 44_100;
        float[] samples = PlayedMusic.Without(PlayedMusic.Stereo(Rate, 3, seed: 8), Rate, 128);
        Array.Clear(samples, 3 * Rate, 400);
        Array.Copy(samples, (4 * Rate) - 1024, samples, 4 * Rate, 1024);
        LossReading whole = Read(4096);
        Assert.NotEmpty(whole.Joints);
        Assert.NotEmpty(whole.ZeroRuns);
        Assert.NotEmpty(whole.Repeats);
        foreach (int block in new[] { 1, 7, 31 })
        {
            LossReading reading = Read(block);
            Assert.Equal(whole.Joints, reading.Joints);
            Assert.Equal(whole.ZeroRuns, reading.ZeroRuns);
            Assert.Equal(whole.Repeats, reading.Repeats);
        }

        LossReading Read(int block) => TestSignal.Read(samples, rateHz: Rate, bits: words == WordFormat.Float32 ? 32 : 24, words: words, blockFrames: block).Losses;
    }
}
