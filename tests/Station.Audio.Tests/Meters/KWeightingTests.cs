using Station.Audio.Meters;
using Xunit;

namespace Station.Audio.Tests.Meters;

public sealed class KWeightingTests
{
    // ITU-R BS.1770-5 Annex 1, Tables 1 and 2 (48 kHz), second-hand through several transcriptions that agree.
    [Fact]
    public void At_48_kHz_the_coefficients_are_the_published_ones()
    {
        BiquadCoefficients shelf = KWeighting.Shelf(48_000);
        Assert.Equal(1.53512485958697, shelf.B0, 1e-12);
        Assert.Equal(-2.69169618940638, shelf.B1, 1e-12);
        Assert.Equal(1.19839281085285, shelf.B2, 1e-12);
        Assert.Equal(-1.69065929318241, shelf.A1, 1e-12);
        Assert.Equal(0.73248077421585, shelf.A2, 1e-12);
        BiquadCoefficients highPass = KWeighting.HighPass(48_000);
        Assert.Equal([1.0, -2.0, 1.0], [highPass.B0, highPass.B1, highPass.B2]);
        Assert.Equal(-1.99004745483398, highPass.A1, 1e-12);
        Assert.Equal(0.99007225036621, highPass.A2, 1e-12);
    }

    // Computed outside this project from the analogue prototype in general use (bilinear transform); no table is published for these rates.
    [Theory]
    [InlineData(44_100, 1.53084123005035, -2.65097999515473, 1.16907907992159, -1.66365511325602, 0.712595428073225, -1.9891696736298, 0.989199035787039, 0.69378, 0.70046)]
    [InlineData(48_000, 1.53512485958697, -2.69169618940638, 1.19839281085285, -1.69065929318241, 0.73248077421585, -1.99004745483398, 0.99007225036621, 0.69101, 0.69770)]
    [InlineData(88_200, 1.55751537557965, -2.90562707992635, 1.36133397747221, -1.83091998796233, 0.844142261087853, -1.99457751545034, 0.994584875878055, 0.67534, 0.68205)]
    [InlineData(96_000, 1.5597142289758, -2.92674157825108, 1.37826120231582, -1.84460946989011, 0.855843322930641, -1.99501754472472, 0.995023759040923, 0.67369, 0.68040)]
    [InlineData(176_400, 1.57111531774185, -3.03654450240465, 1.46887161198976, -1.91532931683305, 0.918771744160008, -1.99728692242381, 0.997288765026068, 0.66483, 0.67155)]
    [InlineData(192_000, 1.57222721509128, -3.04728305156155, 1.47797134097961, -1.92220223060749, 0.925117735116826, -1.9975072228407, 0.99750877835551, 0.66394, 0.67066)]
    public void At_every_usual_rate_coefficients_and_gains_match(
        int rateHz, double b0, double b1, double b2, double a1, double a2, double highPassA1, double highPassA2, double gain997, double gain1000)
    {
        BiquadCoefficients shelf = KWeighting.Shelf(rateHz);
        BiquadCoefficients highPass = KWeighting.HighPass(rateHz);
        double[] expected = [b0, b1, b2, a1, a2, highPassA1, highPassA2];
        double[] found = [shelf.B0, shelf.B1, shelf.B2, shelf.A1, shelf.A2, highPass.A1, highPass.A2];
        Assert.All(expected.Zip(found), pair => Assert.Equal(pair.First, pair.Second, 1e-12));
        Assert.Equal(gain997, shelf.GainDb(997, rateHz) + highPass.GainDb(997, rateHz), 1e-5);
        Assert.Equal(gain1000, shelf.GainDb(1000, rateHz) + highPass.GainDb(1000, rateHz), 1e-5);
    }

    [Theory]
    [InlineData(7_999)]
    [InlineData(384_001)]
    public void A_rate_out_of_range_is_refused(int rateHz)
    {
        Assert.Throws<ArgumentOutOfRangeException>(() => KWeighting.Shelf(rateHz));
        Assert.Throws<ArgumentOutOfRangeException>(() => KWeighting.HighPass(rateHz));
    }

    // Butterworth: −3.01 dB at the corners (definition), 12 dB an octave beyond.
    [Theory]
    [InlineData(22_050)]
    [InlineData(44_100)]
    [InlineData(96_000)]
    [InlineData(192_000)]
    public void The_groove_band_has_its_corners_where_it_says(int rateHz)
    {
        BiquadCoefficients low = GrooveBand.HighPass(rateHz);
        BiquadCoefficients high = GrooveBand.LowPass(rateHz);
        Assert.Equal(-3.0103, low.GainDb(200, rateHz), 1e-3);
        Assert.Equal(-3.0103, high.GainDb(Math.Min(9_000, 0.4 * rateHz), rateHz), 1e-3);
        Assert.InRange(low.GainDb(12, rateHz), -50, -48);
        Assert.Equal(0, low.GainDb(2000, rateHz) + high.GainDb(2000, rateHz), 0.05);
    }
}
