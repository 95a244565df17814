using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Xunit;

namespace Station.Audio.Tests.Meters;

/// <remarks>The truth is computed: sines φ apart correlate by cos φ, their difference over their sum is tan²(φ/2), a gain is its decibels.</remarks>
public sealed class WiringMeterTests
{
    private const int Rate = 48_000;

    [Theory]
    [InlineData(80, 0)]
    [InlineData(80, 60)]
    [InlineData(80, 120)]
    [InlineData(180, 45)]
    [InlineData(180, 90)]
    [InlineData(180, 180)]
    public void Bass_a_phase_apart_correlates_by_its_cosine(double hz, double degrees)
    {
        float[] left = TestSignal.Sine(hz, 0.3, 20, Rate);
        float[] right = TestSignal.Sine(hz, 0.15, 20, Rate, degrees * Math.PI / 180);
        WiringReading wiring = TestSignal.Read(TestSignal.Stereo(left, right)).Wiring!;
        double? correlation = hz < 110 ? wiring.DeepBassCorrelation : wiring.UpperBassCorrelation;
        Assert.Equal(Math.Cos(degrees * Math.PI / 180), correlation!.Value, 0.005);
    }

    [Theory]
    [InlineData(0.0)]
    [InlineData(-6.0)]
    [InlineData(13.5)]
    public void Gains_are_read_in_music_groove_and_bass(double gainDb)
    {
        (float[] left, float[] right) = Side(30, phase: 0);
        float gain = (float)TestSignal.Amplitude(gainDb);
        WiringReading wiring = TestSignal.Read(TestSignal.Stereo([.. left.Select(x => x * gain / 8)], [.. right.Select(x => x / 8)])).Wiring!;
        Assert.Equal(gainDb, wiring.MusicDifferenceDb!.Value, 0.05);
        Assert.Equal(gainDb, wiring.BassDifferenceDb!.Value, 0.05);

        // Two independent noises of one power, medians over 3 s of steps each: they scatter by some tenths of a decibel.
        Assert.Equal(gainDb, wiring.NoiseDifferenceDb!.Value, 0.3);
        Assert.InRange(wiring.NoiseSeconds, 2, 10);
    }

    [Theory]
    [InlineData(20)]
    [InlineData(90)]
    [InlineData(150)]
    public void The_difference_of_the_channels_over_their_sum_is_the_tangents_square(double degrees)
    {
        (float[] left, float[] right) = Side(30, degrees * Math.PI / 180);
        WiringReading wiring = TestSignal.Read(TestSignal.Stereo(left, right)).Wiring!;
        Assert.Equal(Math.Cos(degrees * Math.PI / 180), wiring.BandCorrelation!.Value, 0.01);

        // For channels out of phase the sum and the difference change places: the residual is that of the channels wired right.
        double acute = Math.Min(degrees, 180 - degrees) * Math.PI / 180;
        Assert.Equal(20 * Math.Log10(Math.Tan(acute / 2)), wiring.ResidualDb!.Value, 0.2);
    }

    [Fact]
    public void A_mono_grooves_better_wall_and_the_gain_of_the_sum_are_told()
    {
        // Independent noise of one power in both: the sum gains 3.01 dB over either. With 6.02 dB more on the right the sum of equal weights loses:
        // 4 / (1 + 4) of the left's ratio, −0.97 dB.
        (float[] left, float[] right) = Side(30, phase: 0);
        MonoReading even = TestSignal.Read(TestSignal.Stereo(left, right)).Wiring!.Mono!;
        Assert.Equal(10 * Math.Log10(2), even.SumGainDb!.Value, 0.3);
        Assert.Null(even.BetterWall);
        (left, right) = Side(30, phase: 0, rightNoise: 2);
        MonoReading uneven = TestSignal.Read(TestSignal.Stereo(left, right)).Wiring!.Mono!;
        Assert.Equal(10 * Math.Log10(4 / 5.0), uneven.SumGainDb!.Value, 0.3);
        Assert.Equal(0, uneven.BetterWall);
    }

    [Fact]
    public void Equal_words_are_identical_and_one_bit_is_not()
    {
        float[] same = TestSignal.Both(TestSignal.Sine(440, 0.4, 3, Rate));
        Assert.True(TestSignal.Read(same).Wiring!.Identical);
        same[2 * Rate] += 1 / 8_388_608f;
        Assert.False(TestSignal.Read(same).Wiring!.Identical);

        // Two words of 32 bits that one float stands for.
        CaptureFormat format = TestSignal.Format(WordFormat.Int32, 32, 2, Rate, 2);
        SideMeters meters = new(format, new MeterSettings());
        byte[] words = [1, 0, 0, 64, 1, 0, 0, 64, 1, 0, 0, 64, 2, 0, 0, 64];
        meters.Add(new CaptureBlock(0, 2, words, [0.5f, 0.5f, 0.5f, 0.5f]));
        Assert.False(meters.Finish().Wiring!.Identical);
    }

    [Fact]
    public void Silence_direct_voltage_a_square_and_a_sample_have_no_figures_where_none_is_meant()
    {
        WiringReading silence = TestSignal.Read(new float[2 * 20 * Rate]).Wiring!;
        Assert.False(silence.Identical);
        Assert.Null(silence.MusicDifferenceDb);
        Assert.Null(silence.DeepBassCorrelation);
        Assert.Null(silence.BandCorrelation);
        Assert.Null(silence.SubsonicDifferenceDb);
        Assert.Null(silence.Mono);
        Assert.Empty(silence.Dead);

        Assert.True(TestSignal.Read([0.25f, 0.25f]).Wiring!.Identical);
        Assert.Null(TestSignal.Read([0.25f, 0.5f]).Wiring!.MusicDifferenceDb);
        Assert.Empty(TestSignal.Read(TestSignal.Both([.. Enumerable.Repeat(0.5f, 20 * Rate)])).Wiring!.Dead);
        float[] square = [.. Enumerable.Range(0, 20 * Rate).Select(i => i / 240 % 2 == 0 ? 1f : -1f)];
        WiringReading full = TestSignal.Read(TestSignal.Stereo(square, [.. square.Select(x => -x)])).Wiring!;
        Assert.Equal(-1, full.DeepBassCorrelation!.Value, 1e-3);
        Assert.Null(TestSignal.Read(TestSignal.Sine(440, 0.4, 20, Rate), channels: 1).Wiring);
    }

    [Theory]
    [InlineData(8_000)]
    [InlineData(192_000)]
    public void Low_and_high_rates_read_alike(int rateHz)
    {
        float[] left = TestSignal.Sine(80, 0.3, 6, rateHz);
        float[] right = TestSignal.Sine(80, 0.3, 6, rateHz, Math.PI / 3);
        WiringReading wiring = TestSignal.Read(TestSignal.Stereo(left, right), rateHz: rateHz).Wiring!;
        Assert.Equal(0.5, wiring.DeepBassCorrelation!.Value, 0.01);
    }

    [Fact]
    public void The_size_of_blocks_changes_nothing()
    {
        (float[] left, float[] right) = Side(12, 0.7);
        float[] samples = TestSignal.Stereo(left, right);
        WiringReading[] readings = [.. new[] { 1, 777, 4096, 100_000 }.Select(frames => TestSignal.Read(samples, blockFrames: frames).Wiring!)];
        Assert.All(readings, reading => Assert.Equal(readings[0] with { DeepBassParts = [], Dead = [] }, reading with { DeepBassParts = [], Dead = [] }));
        Assert.All(readings, reading => Assert.Equal(readings[0].DeepBassParts.AsEnumerable(), reading.DeepBassParts));
    }

    /// <summary>Noise of 3 s, a swelling chord of 80 Hz, 1 and 3 kHz, noise of 3 s, the chord, noise of 3 s; the right channel's chord a phase later.</summary>
    private static (float[] Left, float[] Right) Side(double seconds, double phase, double rightNoise = 1)
    {
        Random random = new(7);
        float[] left = new float[(int)((seconds + 6) * Rate)];
        float[] right = new float[left.Length];
        for (int i = 0; i < left.Length; i++)
        {
            double t = ((double)i / Rate) - 3;
            double swell = t < 0 || t > seconds || Math.Abs(t - (seconds / 2)) < 1.5 ? 0 : 0.3 * (0.6 + (0.4 * Math.Sin(2 * Math.PI * t / 1.7)));
            left[i] = (float)((swell * Chord(t, 0)) + (0.001 * (random.NextDouble() - 0.5)));
            right[i] = (float)((swell * Chord(t, phase)) + (rightNoise * 0.001 * (random.NextDouble() - 0.5)));
        }

        return (left, right);
    }

    private static double Chord(double t, double phase) =>
        Math.Sin((2 * Math.PI * 80 * t) + phase) + Math.Sin((2 * Math.PI * 1000 * t) + phase) + Math.Sin((2 * Math.PI * 3000 * t) + phase);
}
