using Station.Audio.Meters;
using Xunit;

namespace Station.Audio.Tests.Meters;

public sealed class FlatTopTests
{
    private const int Rate = 48_000;

    // Computed from the wave: a sine cut g dB below its peak is flat for fs/(π·f)·acos(10^(−g/20)) samples at each top. What is measured is the
    // time within 0.087 dB of the ceiling, so it may be longer by the two slopes' share of it: acos(0.99·c) − acos(c) of the same.
    [Theory]
    [InlineData(1.0, 7.192)]
    [InlineData(3.0, 11.982)]
    [InlineData(6.0, 15.979)]
    public void A_cut_sine_has_flat_tops_of_the_computed_length_at_the_ceiling(double overDb, double length)
    {
        double ceiling = TestSignal.Amplitude(-20);
        float[] samples = Cut(TestSignal.Sine(1000.03, ceiling * TestSignal.Amplitude(overDb), 5, Rate), ceiling);
        double c = TestSignal.Amplitude(-overDb);
        double slopes = Rate / (Math.PI * 1000.03) * (Math.Acos(0.99 * c) - Math.Acos(c));
        SideReading reading = TestSignal.Read(TestSignal.Both(TestSignal.Converted(samples, 24)));
        Assert.Equal(4, reading.FlatTops.Length);
        foreach (FlatTopReading tops in reading.FlatTops)
        {
            int bin = FlatTopReading.BinOf(ceiling);
            int flat = tops.FlatTops.Sum();
            Assert.InRange(flat, 4700, 5000);                       // 5 s of 1 kHz; a top across two steps of 20 ms is left out
            Assert.Equal(flat, tops.FlatTops.Skip(bin - 3).Take(5).Sum());
            Assert.Equal(flat, tops.Tops.Sum());
            Assert.InRange(tops.Places.Average(top => top.Frames), length - 1, length + slopes + 1);
            Assert.All(tops.Places, top => Assert.InRange(20 * Math.Log10(top.Level), -20.1, -19.99));
        }
    }

    [Theory]
    [InlineData(30)]
    [InlineData(61.7)]
    [InlineData(440)]
    [InlineData(5000)]
    public void No_top_of_a_whole_sine_is_flat(double frequencyHz)
    {
        SideReading reading = TestSignal.Read(TestSignal.Converted(TestSignal.Sine(frequencyHz, 0.3, 3, Rate), 24), channels: 1);
        Assert.All(reading.FlatTops, tops => Assert.Equal(0, tops.FlatTops.Sum()));
        Assert.All(reading.FlatTops, tops => Assert.NotEqual(0, tops.Tops.Sum()));
    }

    [Fact]
    public void A_square_wave_was_meant_so()
    {
        float[] samples = [.. Enumerable.Range(0, 3 * Rate).Select(i => i / 48 % 2 == 0 ? 0.3f : -0.3f)];
        SideReading reading = TestSignal.Read(samples, channels: 1);
        Assert.All(reading.FlatTops, tops => Assert.Equal(0, tops.FlatTops.Sum()));
    }

    [Fact]
    public void Silence_and_a_single_large_sample_have_no_flat_tops()
    {
        float[] samples = new float[Rate];
        samples[500] = 1;
        Assert.All(TestSignal.Read(samples, channels: 1).FlatTops, tops => Assert.Empty(tops.Places));
        Assert.All(TestSignal.Read(new float[Rate], channels: 1).FlatTops, tops => Assert.Equal(0, tops.Tops.Sum()));
    }

    [Fact]
    public void The_reading_does_not_depend_on_the_blocks()
    {
        float[] samples = TestSignal.Both(Cut(TestSignal.Sine(333, 0.5, 2, Rate), 0.4));
        SideReading one = TestSignal.Read(samples, blockFrames: 4096);
        SideReading other = TestSignal.Read(samples, blockFrames: 77);
        Assert.Equal(one.FlatTops.SelectMany(tops => tops.Places), other.FlatTops.SelectMany(tops => tops.Places));
        Assert.Equal(one.Amplitudes.SelectMany(channel => channel.Positive), other.Amplitudes.SelectMany(channel => channel.Positive));
        Assert.Equal(one.TopBands.Power.ToArray(), other.TopBands.Power.ToArray());
    }

    [Fact]
    public void Places_stay_few_and_reach_over_the_whole_capture()
    {
        float[] samples = Cut(TestSignal.Sine(997, 0.5, 40, Rate), 0.3);
        SideReading reading = TestSignal.Read(samples, channels: 1);
        Assert.All(reading.FlatTops, tops =>
        {
            Assert.InRange(tops.Places.Length, 4000, 8192);
            Assert.True(tops.Places[0].FirstFrame < Rate / 10);
            Assert.True(tops.Places[^1].FirstFrame > samples.Length - (Rate / 10));
        });
    }

    private static float[] Cut(float[] samples, double ceiling) => [.. samples.Select(x => (float)Math.Clamp(x, -ceiling, ceiling))];
}
