using Station.Audio.Meters;
using Xunit;

namespace Station.Audio.Tests.Meters;

public sealed class AmplitudeTests
{
    // Computed: a sine of amplitude A is above the level v for acos(v/A)/π of the time, so the share p is exceeded by A·cos(π·p).
    // A bin is at most 1/64 of its level wide.
    [Fact]
    public void The_levels_of_a_sine_are_the_computed_ones()
    {
        const double Amplitude = 0.4;
        AmplitudeReading reading = TestSignal.Read(TestSignal.Sine(441.7, Amplitude, 20, 48_000), channels: 1).Amplitudes[0];
        for (int i = 0; i < AmplitudeReading.Levels; i++)
        {
            double level = Amplitude * Math.Cos(Math.PI * AmplitudeReading.ShareOf(i));
            Assert.Equal(level, reading.Positive[i], level / 64);
            Assert.Equal(level, reading.Negative[i], level / 64);
        }
    }

    [Fact]
    public void A_steady_offset_is_taken_off()
    {
        float[] samples = [.. TestSignal.Sine(441.7, 0.4, 20, 48_000).Select(x => x + 0.1f)];
        AmplitudeReading reading = TestSignal.Read(samples, channels: 1).Amplitudes[0];
        for (int i = 0; i < AmplitudeReading.Levels; i++)
        {
            Assert.Equal(1, reading.Positive[i] / reading.Negative[i], 0.03);
        }

        Assert.Equal(2, reading.Segments.Length);
        Assert.All(reading.Segments, segment => Assert.Equal(1, segment.Positive / segment.Negative, 0.03));
    }

    [Theory]
    [InlineData(8_000)]
    [InlineData(44_100)]
    [InlineData(192_000)]
    public void Every_rate_and_both_channels_are_measured(int rateHz)
    {
        float[] left = TestSignal.Sine(441.7, 0.4, 3, rateHz);
        float[] right = [.. left.Select(x => x / 4)];
        SideReading reading = TestSignal.Read(TestSignal.Stereo(left, right), rateHz: rateHz);
        Assert.Equal(4, reading.Amplitudes[0].Positive[7] / reading.Amplitudes[1].Positive[7], 0.05);
    }
}
