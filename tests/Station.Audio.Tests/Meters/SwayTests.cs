using Station.Audio.Meters;
using Xunit;

namespace Station.Audio.Tests.Meters;

public sealed class SwayTests
{
    [Theory]
    [InlineData(1.8, 1, 0)]
    [InlineData(1.8, 2, 0)]
    [InlineData(1.8, 0.3, 0)]
    [InlineData(60.0 / 45, 1, 0.5)]
    [InlineData(0.77, 1, 0)]
    public void A_planted_sway_is_read_at_its_size(double turnSeconds, double percent, double vibratoPercent)
    {
        Sway sway = Assert.IsType<Sway>(Read(turnSeconds, percent, vibratoPercent));
        Assert.True(sway.IsCertain);
        Assert.InRange(sway.PeakPercent, 0.9 * percent, 1.1 * percent);
    }

    [Theory]
    [InlineData(0)]
    [InlineData(1)]
    public void Vibrato_is_no_sway(double vibratoPercent)
    {
        Sway sway = Assert.IsType<Sway>(Read(1.8, 0, vibratoPercent));
        Assert.InRange(sway.PeakPercent, 0, 0.1);
    }

    [Fact]
    public void A_sway_at_another_rate_is_not_the_turns()
    {
        // 2.3 s is no turn of a turntable set to 33 1/3: a singer's slow glide, perhaps.
        Sway sway = Assert.IsType<Sway>(Read(2.3, 1, 0, 1.8));
        Assert.False(sway.IsCertain && sway.PeakPercent > 0.4);
    }

    [Fact]
    public void Noise_is_nothing_to_follow()
    {
        var meter = new PartialMeter(5512.5);
        meter.Add(new float[200_000]);
        Assert.Null(SwayFinder.Find(meter.Tracks, meter.PerSecond, 1.8));
        meter = new PartialMeter(5512.5);
        meter.Add(TurnSignal.Noise(-30, 60, 5512, 4));
        Assert.False(SwayFinder.Find(meter.Tracks, meter.PerSecond, 1.8) is { IsCertain: true, PeakPercent: > 0.4 });
    }

    private static Sway? Read(double swaySeconds, double percent, double vibratoPercent, double? turnSeconds = null)
    {
        var meter = new PartialMeter(5512);
        meter.Add(TurnSignal.Chords(60, 5512, swaySeconds, percent, vibratoPercent));
        return SwayFinder.Find(meter.Tracks, meter.PerSecond, turnSeconds ?? swaySeconds);
    }
}
