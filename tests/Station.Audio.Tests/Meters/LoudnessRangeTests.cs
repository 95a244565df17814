using Station.Audio.Meters;
using Xunit;

namespace Station.Audio.Tests.Meters;

/// <remarks>
/// EBU Tech 3342 (2023) Table 1 cases 1 to 4 and Tech 3341 V4 (November 2023) Table 1 case 6, second-hand through three transcriptions that agree.
/// </remarks>
public sealed class LoudnessRangeTests
{
    [Theory]
    [InlineData(1, 10.0)]
    [InlineData(2, 5.0)]
    [InlineData(3, 20.0)]
    [InlineData(4, 15.0)]
    public void The_range_meets_cases_1_to_4(int number, double expectedLu)
    {
        double[] levels = number switch
        {
            1 => [-20, -30],
            2 => [-20, -15],
            3 => [-40, -20],
            _ => [-50, -35, -20, -35, -50],
        };
        float[] channel = TestSignal.Segments(48_000, [.. levels.Select(level => ((double?)level, 20.0))]);
        double range = TestSignal.Read(TestSignal.Both(channel)).LoudnessRangeLu!.Value;
        Assert.Equal(expectedLu, range, 1.0);            // the published tolerance
        Assert.Equal(expectedLu, range, 0.05);           // what ffmpeg 5.1.9, libebur128 1.2.6 and a script read (observed)
    }

    [Fact]
    public void A_steady_tone_has_no_range_and_silence_none_at_all()
    {
        Assert.Equal(0, TestSignal.Read(TestSignal.Both(TestSignal.Segments(48_000, (-20, 10)))).LoudnessRangeLu!.Value, 0.01);
        Assert.Null(TestSignal.Read(new float[2 * 48_000 * 5]).LoudnessRangeLu);
        Assert.Null(TestSignal.Read(TestSignal.Both(TestSignal.Segments(48_000, (-20, 2.9)))).LoudnessRangeLu);
    }

    [Fact]
    public void Five_channels_with_their_weights_meet_case_6()
    {
        // Left, right, centre weigh 1.0, the surrounds 1.41 (BS.1770 Annex 1 Table 3, second-hand). Captures have two channels at most; this holds
        // the weighting and the gating to the one published case that has more.
        (double Dbfs, double Weight)[] channels = [(-28, 1), (-28, 1), (-24, 1), (-30, 1.41), (-30, 1.41)];
        float[][] signals = [.. channels.Select(channel => TestSignal.Segments(48_000, (channel.Dbfs, 20)))];
        StepFilter[] filters = [.. channels.Select(_ => new StepFilter(48_000, 1))];
        GatedLoudness loudness = new(expectedSteps: 0);
        for (int at = 0; at < signals[0].Length; at += 960)
        {
            double power = 0;
            for (int channel = 0; channel < channels.Length; channel++)
            {
                power += channels[channel].Weight * filters[channel].Run(signals[channel].AsSpan(at, 960)).Filtered[0] / 960;
            }

            loudness.Add(power);
        }

        Assert.Equal(-23, loudness.IntegratedLufs()!.Value, 0.1);
    }

    [Fact]
    public void Short_term_is_constant_in_case_9_and_momentary_in_case_12()
    {
        AssertConstant([(-20, 1.34), (-30, 1.66)], repeats: 5, fromSeconds: 3, meter => meter.ShortTermPower);
        AssertConstant([(-20, 0.18), (-30, 0.22)], repeats: 25, fromSeconds: 1, meter => meter.MomentaryPower);
    }

    private static void AssertConstant((double? Dbfs, double Seconds)[] unit, int repeats, double fromSeconds, Func<GatedLoudness, double> power)
    {
        float[] samples = TestSignal.Both(TestSignal.Segments(48_000, [.. Enumerable.Repeat(unit, repeats).SelectMany(part => part)]));
        StepFilter filter = new(48_000, 2);
        GatedLoudness loudness = new(expectedSteps: 0);
        for (int at = 0; at < samples.Length; at += 1920)
        {
            StepSums sums = filter.Run(samples.AsSpan(at, 1920));
            loudness.Add((sums.Filtered[0] + sums.Filtered[1]) / 960);
            if (at >= 2 * 48_000 * fromSeconds)
            {
                Assert.Equal(-23, -0.691 + (10 * Math.Log10(power(loudness))), 0.1);
            }
        }
    }
}
