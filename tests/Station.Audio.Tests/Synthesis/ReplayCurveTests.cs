using Station.Audio.Synthesis;
using Xunit;

namespace Station.Audio.Tests.Synthesis;

public sealed class ReplayCurveTests
{
    /// <summary>
    /// Replay curve for 3180, 318 and 75 µs, dB relative to 1 kHz. Time constants: IEC 60098 (318 and 75 µs confirmed in IASA TC-04 2nd
    /// ed. §5.3.6.2, 3180 µs second-hand). Values: computed from them; −13.7 dB at 10 kHz also printed in IASA TC-04 Table 1 §5.3
    /// (confirmed).
    /// </summary>
    public static TheoryData<double, double> Published() => new()
    {
        { 20, 19.2741 },
        { 30, 18.5926 },
        { 50, 16.9457 },
        { 100, 13.0885 },
        { 200, 8.2195 },
        { 500, 2.6476 },
        { 1000, 0 },
        { 2000, -2.5885 },
        { 3000, -4.7401 },
        { 5000, -8.2096 },
        { 10000, -13.7343 },
        { 15000, -17.1569 },
    };

    [Theory]
    [MemberData(nameof(Published))]
    public void Filter_follows_the_published_curve_at_every_rate(double hz, double decibels)
    {
        // Replay equipment is usually held to ±1 dB of the curve (from memory); a careful digital filter to ±0.1 dB (common practice, no
        // source), which one pole and one zero reach from 96 kHz on.
        foreach ((int rate, double tolerance) in new[] { (44100, 0.25), (48000, 0.25), (96000, 0.05), (192000, 0.05) })
        {
            Assert.InRange(10 * Math.Log10(new ReplayCurve(rate).PowerAt(hz, rate)), decibels - tolerance, decibels + tolerance);
        }
    }

    [Fact]
    public void Gap_noise_has_the_tilt_of_the_replay_curve()
    {
        Heard heard = new(Plans.BlankGroove(30) with { ArmResonanceOverNoiseDb = -60, ElectronicsNoiseDbfs = -120 });
        double[] spectrum = Heard.Spectrum(heard.Left.AsSpan(heard.Rate, 28 * heard.Rate), 8192);
        double reference = Around(spectrum, heard.Rate, 1000);
        foreach ((double hz, double decibels) in Published().Select(row => row.Data).Where(row => row.Item1 >= 100 && row.Item1 <= 15000))
        {
            // A tenth of the frequency wide, so at 100 Hz the scatter over 28 s is about ±0.5 dB for two standard deviations.
            double tolerance = hz < 300 ? 1.0 : 0.5;
            Assert.InRange(Around(spectrum, heard.Rate, hz) - reference, decibels - tolerance, decibels + tolerance);
        }
    }

    [Fact]
    public void Arm_resonance_lies_at_12_Hz_and_leaves_the_audio_band_alone()
    {
        Heard with = new(Plans.BlankGroove(30));
        Heard without = new(Plans.BlankGroove(30) with { ArmResonanceOverNoiseDb = -60 });
        double[] loud = Heard.Spectrum(with.Left.AsSpan(with.Rate, 28 * with.Rate), 32768);
        double[] bare = Heard.Spectrum(without.Left.AsSpan(with.Rate, 28 * with.Rate), 32768);

        // Between 10 and 15 Hz it stands far above the replay curve's own rise, from 100 Hz up it adds nothing.
        Assert.True(Heard.BandPower(loud, with.Rate, 10, 15) > 100 * Heard.BandPower(bare, with.Rate, 10, 15));
        Assert.InRange(Heard.BandPower(loud, with.Rate, 100, 300) / Heard.BandPower(bare, with.Rate, 100, 300), 0.9, 1.1);
    }

    private static double Around(double[] spectrum, int rate, double hz) =>
        10 * Math.Log10(Heard.BandPower(spectrum, rate, hz * 0.95, hz * 1.05) / (0.1 * hz));
}
