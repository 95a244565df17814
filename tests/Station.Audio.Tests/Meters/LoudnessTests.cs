using Station.Audio.Meters;
using Xunit;

namespace Station.Audio.Tests.Meters;

/// <remarks>
/// Signals, expected values and tolerances: EBU Tech 3341 V4 (November 2023) Table 1, second-hand through three transcriptions that agree.
/// All are 1 kHz sines, phase continuous, the same in both channels, levels as peak dBFS.
/// </remarks>
public sealed class LoudnessTests
{
    private const double Tolerance = 0.1;

    public static TheoryData<int, int> Cases
    {
        get
        {
            TheoryData<int, int> data = [];
            foreach (int rateHz in new[] { 44_100, 48_000, 88_200, 96_000, 192_000 })
            {
                foreach (int number in rateHz <= 48_000 ? new[] { 1, 2, 3, 4, 5 } : [1, 5])
                {
                    data.Add(rateHz, number);
                }
            }

            return data;
        }
    }

    [Theory]
    [MemberData(nameof(Cases))]
    public void Integrated_loudness_meets_cases_1_to_5(int rateHz, int number)
    {
        (double? Dbfs, double Seconds)[] segments = number switch
        {
            1 => [(-23, 20)],
            2 => [(-33, 20)],
            3 => [(-36, 10), (-23, 60), (-36, 10)],
            4 => [(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)],
            _ => [(-26, 20), (-20, 20.1), (-26, 20)],
        };
        LoudnessMeter meter = Measure(rateHz, segments);
        Assert.Equal(number == 2 ? -33 : -23, meter.IntegratedLufs()!.Value, Tolerance);
    }

    [Theory]
    [InlineData(-23)]
    [InlineData(-33)]
    public void Momentary_and_short_term_meet_cases_1_and_2(double level)
    {
        LoudnessMeter meter = Measure(48_000, [(level, 20)]);
        Assert.Equal(level, meter.MaxMomentaryLufs()!.Value, Tolerance);
        Assert.Equal(level, meter.MaxShortTermLufs()!.Value, Tolerance);
    }

    [Fact]
    public void Largest_short_term_meets_case_9()
    {
        LoudnessMeter meter = Measure(48_000, [.. Enumerable.Repeat<(double? Dbfs, double Seconds)[]>([(-20, 1.34), (-30, 1.66)], 5).SelectMany(pair => pair)]);
        Assert.Equal(-23, meter.MaxShortTermLufs()!.Value, Tolerance);
    }

    [Fact]
    public void Largest_short_term_meets_the_twenty_files_of_case_10() =>
        Assert.All(Enumerable.Range(0, 20), i =>
            Assert.Equal(-23, Measure(48_000, [(null, 0.15 * i), (-23, 3), (null, 1)]).MaxShortTermLufs()!.Value, Tolerance));

    [Fact]
    public void Largest_momentary_meets_case_12()
    {
        LoudnessMeter meter = Measure(48_000, [.. Enumerable.Repeat<(double? Dbfs, double Seconds)[]>([(-20, 0.18), (-30, 0.22)], 25).SelectMany(pair => pair)]);
        Assert.Equal(-23, meter.MaxMomentaryLufs()!.Value, Tolerance);
    }

    [Fact]
    public void Largest_momentary_meets_the_twenty_files_of_case_13() =>
        Assert.All(Enumerable.Range(0, 20), i =>
            Assert.Equal(-23, Measure(48_000, [(null, 0.02 * i), (-23, 0.4), (null, 1)]).MaxMomentaryLufs()!.Value, Tolerance));

    // Cases 11 and 14: twenty units, each louder by 1 dB and starting later; the running maximum is read after each.
    [Theory]
    [InlineData(3.0, 0.15)]
    [InlineData(0.4, 0.02)]
    public void Running_maxima_meet_cases_11_and_14(double toneSeconds, double shiftSeconds)
    {
        LoudnessMeter meter = new(48_000, 2);
        for (int i = 0; i < 20; i++)
        {
            double before = shiftSeconds * i;
            meter.Add(TestSignal.Both(TestSignal.Segments(
                48_000, (null, before), (-38 + i, toneSeconds), (null, (2 * toneSeconds) - toneSeconds - before))));
            double found = (toneSeconds > 1 ? meter.MaxShortTermLufs() : meter.MaxMomentaryLufs())!.Value;
            Assert.Equal(-38 + i, found, Tolerance);
        }
    }

    // ITU-R BS.1770-5 Annex 1: a 997 Hz sine of 0 dBFS in one front channel reads −3.01 LKFS (second-hand).
    [Fact]
    public void The_997_Hz_anchor_reads_minus_3_01()
    {
        float[] sine = TestSignal.Sine(997, 1, 20, 48_000);
        LoudnessMeter meter = new(48_000, 2);
        meter.Add(TestSignal.Stereo(sine, new float[sine.Length]));
        Assert.Equal(-3.01, meter.IntegratedLufs()!.Value, 0.005);
    }

    // Computed: the same signal in one channel has half the power of two equal channels, 3.01 LU.
    [Fact]
    public void One_channel_reads_3_01_less_than_two_equal_ones()
    {
        float[] sine = TestSignal.Sine(1000, TestSignal.Amplitude(-23), 5, 48_000);
        LoudnessMeter mono = new(48_000, 1);
        mono.Add(sine);
        LoudnessMeter stereo = new(48_000, 2);
        stereo.Add(TestSignal.Both(sine));
        Assert.Equal(10 * Math.Log10(2), stereo.IntegratedLufs()!.Value - mono.IntegratedLufs()!.Value, 1e-9);
        Assert.Equal(-26.01, mono.IntegratedLufs()!.Value, Tolerance);
    }

    // A value without meaning is no value: no 400 ms block passes the gate.
    [Fact]
    public void Silence_and_less_than_a_block_have_no_loudness()
    {
        LoudnessMeter silence = Measure(48_000, [(null, 5)]);
        Assert.Null(silence.IntegratedLufs());
        Assert.Null(silence.MaxMomentaryLufs());
        Assert.Equal(0, silence.SamplePeak);
        LoudnessMeter brief = Measure(48_000, [(-23, 0.3)]);
        Assert.Null(brief.IntegratedLufs());
        Assert.Equal(TestSignal.Amplitude(-23), brief.SamplePeak, 1e-3);
        Assert.Null(Measure(48_000, [(-75, 5)]).IntegratedLufs());
    }

    [Fact]
    public void The_size_of_the_portions_does_not_matter()
    {
        float[] samples = TestSignal.Both(TestSignal.Segments(44_100, (-20, 1.234), (-40, 0.7), (-23, 2)));
        LoudnessMeter whole = new(44_100, 2);
        whole.Add(samples);
        foreach (int frames in new[] { 1, 7, 31, 4096 })
        {
            LoudnessMeter parts = new(44_100, 2);
            for (int at = 0; at < samples.Length; at += 2 * frames)
            {
                parts.Add(samples.AsSpan(at, Math.Min(2 * frames, samples.Length - at)));
            }

            Assert.Equal(whole.IntegratedLufs(), parts.IntegratedLufs());
            Assert.Equal(whole.MaxMomentaryLufs(), parts.MaxMomentaryLufs());
            Assert.Equal(whole.SamplePeak, parts.SamplePeak);
        }
    }

    [Fact]
    public void Samples_that_are_not_finite_do_not_spoil_the_loudness()
    {
        float[] samples = TestSignal.Both(TestSignal.Segments(48_000, (-23, 20)));
        samples[1000] = float.NaN;
        samples[2001] = float.PositiveInfinity;
        LoudnessMeter meter = new(48_000, 2);
        meter.Add(samples);
        Assert.Equal(-23, meter.IntegratedLufs()!.Value, Tolerance);
        Assert.Equal(TestSignal.Amplitude(-23), meter.SamplePeak, 1e-3);
    }

    private static LoudnessMeter Measure(int rateHz, (double? Dbfs, double Seconds)[] segments)
    {
        LoudnessMeter meter = new(rateHz, 2);
        meter.Add(TestSignal.Both(TestSignal.Segments(rateHz, segments)));
        return meter;
    }
}
