using Station.Daemon.Listening;
using Xunit;

namespace Station.Daemon.Tests.Listening;

public sealed class ReplayGainTests
{
    // ReplayGain 2.0: gain = -18 LUFS - loudness (reference second-hand, values computed); two decimals, blank, dB (from memory).
    [Theory]
    [InlineData(-22.0, "+4.00 dB")]
    [InlineData(-30.0, "+12.00 dB")]
    [InlineData(-14.5, "-3.50 dB")]
    [InlineData(-11.75, "-6.25 dB")]
    [InlineData(-18.0, "+0.00 dB")]
    [InlineData(-17.997, "+0.00 dB")]
    public void Gain_brings_a_track_to_minus_18_LUFS(double lufs, string text) => Assert.Equal(text, ReplayGain.GainText(lufs));

    // Peak: linear, 1.000000 = full scale, six decimals, above 1 allowed (from memory of the specification).
    [Theory]
    [InlineData(1.0, "1.000000")]
    [InlineData(0.988553, "0.988553")]
    [InlineData(1.25, "1.250000")]
    [InlineData(0.0, "0.000000")]
    public void Peak_is_linear_with_six_decimals(double peak, string text) => Assert.Equal(text, ReplayGain.PeakText(peak));

    [Fact]
    public void Silence_has_no_gain()
    {
        Assert.Null(ReplayGain.GainText(null));
        Assert.Null(ReplayGain.GainText(double.NegativeInfinity));
        Assert.Null(ReplayGain.GainText(double.NaN));
        Assert.Null(ReplayGain.PeakText(null));
        Assert.Null(ReplayGain.PeakText(double.NaN));
    }
}
