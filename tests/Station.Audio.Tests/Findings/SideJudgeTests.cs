using System.Collections.Immutable;
using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Audio.Tests.Meters;
using Xunit;

namespace Station.Audio.Tests.Findings;

/// <remarks>
/// The limits are this project's own or common practice without a source, as <see cref="InspectionLimits"/> says; the levels, overshoots
/// and places the judgements must name are computed from the signals.
/// </remarks>
public sealed class SideJudgeTests
{
    private const int Rate = 48_000;

    [Theory]
    [InlineData(1.0)]
    [InlineData(3.4)]
    [InlineData(6.0)]
    public void Overdriven_music_is_a_retake_and_the_advice_undoes_the_overshoot(double overdriveDb)
    {
        Judgement judgement = Judge(Music(40, overdriveDb));
        Finding finding = Assert.Single(judgement.Findings);
        Assert.Equal((FindingCodes.ClippedConverter, Severity.Retake), (finding.Code, finding.Severity));
        Assert.Equal(FindingChannel.Both, finding.Channel);

        // What the advice is for: the next take peaks near −6 dBFS. The estimate is exact for a sine only; partials riding on a chord's edges
        // were seen to make it read up to 1.2 dB more at 6 dB of overdrive.
        Assert.Equal(-6, overdriveDb + judgement.Level.RecommendedChangeDb!.Value, 1.5);
        Assert.Equal(-6 - finding.Measured!.Value, judgement.Level.RecommendedChangeDb.Value, 0.25);
        Assert.StartsWith("Lower the recording level by ", finding.Advice, StringComparison.Ordinal);
        Assert.EndsWith(" dB and play this side again.", finding.Advice, StringComparison.Ordinal);
        Assert.True(finding.Count > 1000);
        Assert.InRange(finding.Spans.Length, 1, 100);
        Assert.InRange(finding.Spans[0].StartSeconds, 4, 12);
        Assert.True(finding.Spans[^1].EndSeconds <= 48);
    }

    [Fact]
    public void The_channel_that_clipped_is_named()
    {
        float[] loud = Music(30, 3);
        Judgement judgement = Judge(TestSignal.Stereo([.. loud.Select(x => x / 3)], loud), interleaved: true);
        Assert.Equal(FindingChannel.Right, judgement.Findings.Single(finding => finding.Code == FindingCodes.ClippedConverter).Channel);
    }

    [Fact]
    public void Ticks_at_full_scale_in_quieter_music_are_for_a_person_to_hear()
    {
        float[] samples = Music(40, -12);
        for (int i = 0; i < 40; i++)
        {
            Array.Fill(samples, 1f, (6 + i) * Rate, 4);
        }

        Judgement judgement = Judge(samples);
        Finding finding = judgement.Findings.Single(found => found.Code == FindingCodes.ClippedConverter);
        Assert.Equal(Severity.Review, finding.Severity);
        Assert.Equal(80, finding.Count);
        Assert.Equal(6, judgement.Level.RecommendedChangeDb!.Value, 0.5);
    }

    [Fact]
    public void A_few_short_runs_in_loud_music_are_for_a_person_to_hear()
    {
        float[] samples = Music(40, -1.5);
        foreach (int second in new[] { 15, 25 })
        {
            Array.Fill(samples, -1f, second * Rate, 5);
        }

        Judgement judgement = Judge(samples);
        Assert.Equal(Severity.Review, judgement.Findings.Single(found => found.Code == FindingCodes.ClippedConverter).Severity);
    }

    [Fact]
    public void The_needles_set_down_and_lift_are_not_the_levels_fault()
    {
        float[] samples = Music(40, -8);
        Thump(samples, Rate / 2);
        Thump(samples, samples.Length - Rate);
        Judgement judgement = Judge(samples);
        Assert.Equal(Severity.Note, judgement.Findings.Single(found => found.Code == FindingCodes.ClippedConverter).Severity);
        Assert.Equal(Verdict.Accept, VerdictRule.Of(judgement.Findings));
        Assert.Equal(2, judgement.Level.RecommendedChangeDb!.Value, 0.5);
    }

    [Fact]
    public void A_needle_set_down_into_the_music_is_no_retake()
    {
        float[] music = Music(40, -4)[(36 * Rate / 10)..];
        Thump(music, Rate / 2);
        Judgement judgement = Judge(music);
        Assert.NotEqual(Verdict.Retake, VerdictRule.Of(judgement.Findings));
    }

    [Fact]
    public void A_converter_stuck_at_full_scale_is_a_retake_without_a_figure()
    {
        float[] samples = new float[20 * Rate];
        Array.Fill(samples, -1f);
        Judgement judgement = Judge(samples);
        Finding finding = judgement.Findings[0];
        Assert.Equal((FindingCodes.ClippedConverter, Severity.Retake), (finding.Code, finding.Severity));
        Assert.Null(judgement.Level.RecommendedChangeDb);
        Assert.Contains(judgement.Findings, found => found.Code == FindingCodes.DcOffset && found.Severity == Severity.Review);
    }

    [Theory]
    [InlineData(-0.5, true)]
    [InlineData(-0.9, true)]
    [InlineData(-1.1, false)]
    public void Headroom_under_a_decibel_is_a_note(double peakDbfs, bool noted)
    {
        Judgement judgement = Judge(TestSignal.Sine(440, TestSignal.Amplitude(peakDbfs), 20, Rate));
        if (noted)
        {
            Finding finding = Assert.Single(judgement.Findings);
            Assert.Equal((FindingCodes.LevelHot, Severity.Note), (finding.Code, finding.Severity));
            Assert.Equal(peakDbfs, finding.Measured!.Value, 0.01);
            Assert.Contains("Lower the recording level", finding.Advice, StringComparison.Ordinal);
        }
        else
        {
            Assert.Empty(judgement.Findings);
        }

        Assert.Equal(-6 - peakDbfs, judgement.Level.RecommendedChangeDb!.Value, 0.25 + 0.01);
    }

    [Theory]
    [InlineData(-23.9, false)]
    [InlineData(-24.1, true)]
    [InlineData(-30, true)]
    public void A_programme_below_minus_24_is_for_review(double peakDbfs, bool low)
    {
        Judgement judgement = Judge(TestSignal.Sine(440, TestSignal.Amplitude(peakDbfs), 20, Rate));
        Assert.Equal(low, judgement.Findings.Any(finding => finding is { Code: FindingCodes.LevelLow, Severity: Severity.Review }));
        Assert.Equal(-6 - peakDbfs, judgement.Level.RecommendedChangeDb!.Value, 0.25 + 0.01);
    }

    [Fact]
    public void A_silent_capture_says_so_and_advises_no_figure()
    {
        Judgement judgement = Judge(new float[10 * Rate]);
        Finding finding = Assert.Single(judgement.Findings);
        Assert.Equal((FindingCodes.LevelLow, Severity.Review), (finding.Code, finding.Severity));
        Assert.Contains("silent", finding.Message, StringComparison.Ordinal);
        Assert.Null(judgement.Level.RecommendedChangeDb);
        Assert.Null(finding.Measured);
    }

    [Fact]
    public void Groove_noise_alone_is_not_to_be_raised_by_40_dB()
    {
        Random random = new(1);
        Judgement judgement = Judge([.. Enumerable.Range(0, 20 * Rate).Select(_ => (float)(0.002 * (random.NextDouble() - 0.5)))]);
        Assert.Equal(FindingCodes.LevelLow, Assert.Single(judgement.Findings).Code);
        Assert.Null(judgement.Level.RecommendedChangeDb);
    }

    [Fact]
    public void Invalid_samples_are_for_review_with_their_places()
    {
        float[] samples = TestSignal.Both(TestSignal.Sine(440, 0.4, 20, Rate));
        samples[2 * 5 * Rate] = float.NaN;
        samples[2 * 12 * Rate] = 1.25f;
        Judgement judgement = SideJudge.Judge(TestSignal.Read(samples, words: WordFormat.Float32, bits: 32), [], new InspectionLimits());
        Finding finding = judgement.Findings.Single(found => found.Code == FindingCodes.SamplesInvalid);
        Assert.Equal((Severity.Review, 2), (finding.Severity, finding.Count));
        Assert.Equal([5.0, 12.0], finding.Spans.Select(span => span.StartSeconds));
        Assert.Equal(20 * Math.Log10(1.25), finding.Measured!.Value, 1e-6);
    }

    [Theory]
    [InlineData(0.0009, null)]
    [InlineData(0.0011, Severity.Note)]
    [InlineData(0.011, Severity.Review)]
    public void Direct_voltage_is_noted_then_reviewed(double offset, Severity? expected)
    {
        float[] sine = TestSignal.Sine(440, 0.4, 10, Rate);
        Judgement judgement = Judge(TestSignal.Stereo([.. sine.Select(x => (float)(x - offset))], sine), interleaved: true);
        Finding? finding = judgement.Findings.SingleOrDefault(found => found.Code == FindingCodes.DcOffset);
        Assert.Equal(expected, finding?.Severity);
        if (finding is not null)
        {
            Assert.Equal(FindingChannel.Left, finding.Channel);
            Assert.Equal(100 * offset, finding.Measured!.Value, 0.002);
        }
    }

    [Fact]
    public void Repairs_become_findings()
    {
        SideReading reading = TestSignal.Read(TestSignal.Stereo(TestSignal.Sine(440, 0.4, 10, Rate), TestSignal.Sine(440, 0.39, 10, Rate)));
        Judgement judgement = SideJudge.Judge(
            reading,
            [
                new CaptureRepair(FindingCodes.FileDamaged, "The RIFF length is 0.", 4, null) { SoundInDoubt = false },
                new CaptureRepair(FindingCodes.FileTruncated, "The data chunk ends 100 frames early.", 1_440_044, 10L * Rate),
            ],
            new InspectionLimits());
        Assert.Equal(
            [(FindingCodes.FileTruncated, Severity.Review), (FindingCodes.FileDamaged, Severity.Note)],
            judgement.Findings.Select(finding => (finding.Code, finding.Severity)));
        Assert.Equal("The data chunk ends 100 frames early.", judgement.Findings[0].Message);
        Assert.Equal(10, Assert.Single(judgement.Findings[0].Spans).StartSeconds);
    }

    [Fact]
    public void Configured_severities_and_targets_count()
    {
        InspectionLimits limits = new() { TargetPeakDbfs = -3 };
        limits.Severities[FindingCodes.LevelHot] = Severity.Retake;
        SideReading reading = TestSignal.Read(TestSignal.Both(TestSignal.Sine(440, TestSignal.Amplitude(-0.5), 10, Rate)));
        Judgement judgement = SideJudge.Judge(reading, [], limits);
        Assert.Equal(Verdict.Retake, VerdictRule.Of(judgement.Findings));
        Assert.Equal(new LevelAdvice(-2.5, -3), judgement.Level);
    }

    [Fact]
    public void Every_finding_has_a_sentence_and_one_line_of_advice()
    {
        float[][] captures = [Music(20, 6), Music(20, -40), new float[Rate], Music(20, -0.2), [.. Music(20, -10).Select(x => x + 0.02f)]];
        ImmutableArray<Finding> findings = [.. captures.SelectMany(capture => Judge(capture).Findings)];
        Assert.NotEmpty(findings);
        Assert.All(findings, finding =>
        {
            Assert.EndsWith(".", finding.Message, StringComparison.Ordinal);
            Assert.EndsWith(".", finding.Advice, StringComparison.Ordinal);
            Assert.DoesNotContain('\n', finding.Advice);
            Assert.Equal(FindingCodes.DefaultSeverity.ContainsKey(finding.Code), finding.Message.Length > 10);
        });
    }

    [Fact]
    public void The_verdict_is_the_worst_severity()
    {
        Assert.Equal(Verdict.Accept, VerdictRule.Of([]));
        Assert.Equal(Verdict.Accept, VerdictRule.Of([Plain(Severity.Note)]));
        Assert.Equal(Verdict.Review, VerdictRule.Of([Plain(Severity.Note), Plain(Severity.Review)]));
        Assert.Equal(Verdict.Retake, VerdictRule.Of([Plain(Severity.Review), Plain(Severity.Retake), Plain(Severity.Note)]));

        static Finding Plain(Severity severity) => new() { Code = FindingCodes.Wow, Severity = severity, Message = "m", Advice = "a" };
    }

    [Fact]
    public void Every_code_has_a_default_severity()
    {
        string[] codes = [.. typeof(FindingCodes).GetFields().Where(field => field.IsLiteral).Select(field => (string)field.GetRawConstantValue()!)];
        Assert.Equal(39, codes.Distinct(StringComparer.Ordinal).Count());
        Assert.Equal(codes.Order(StringComparer.Ordinal), FindingCodes.DefaultSeverity.Keys.Order(StringComparer.Ordinal));
    }

    // A chord that swells to the given peak every four seconds, with 4 s of groove noise before it and after it.
    private static float[] Music(double seconds, double peakDb)
    {
        Random random = new(2);
        double amplitude = TestSignal.Amplitude(peakDb);
        int quiet = 4 * Rate;
        float[] samples = new float[(int)(seconds * Rate) + (2 * quiet)];
        for (int i = 0; i < samples.Length; i++)
        {
            double noise = 0.001 * (random.NextDouble() - 0.5);
            double t = (double)(i - quiet) / Rate;
            double swell = t < 0 || t > seconds ? 0 : 0.55 + (0.45 * Math.Sin(Math.PI * t / 2));
            double chord = (0.7 * Math.Sin(2 * Math.PI * 220 * t)) + (0.2 * Math.Sin(2 * Math.PI * 331.3 * t)) + (0.1 * Math.Sin(2 * Math.PI * 1103.7 * t));
            samples[i] = (float)((amplitude * swell * chord) + noise);
        }

        return samples;
    }

    private static void Thump(float[] samples, int at)
    {
        for (int i = 0; i < Rate / 5; i++)
        {
            samples[at + i] += (float)(3 * Math.Exp(-i / (0.05 * Rate)) * Math.Sin(2 * Math.PI * 40 * i / Rate));
        }
    }

    // White noise for a groove and a chord without bass: this sound never saw a replay curve, and the sheet says so.
    private static Judgement Judge(float[] samples, bool interleaved = false)
    {
        float[] converted = TestSignal.Converted(interleaved ? samples : TestSignal.Both(samples), 24);

        // One frame apart by one code, as two channels of a pickup always are: equal ones are a remark of their own.
        converted[^1] = converted[^1] == 0 ? 1 / 8_388_608f : 0;
        return SideJudge.Judge(TestSignal.Read(converted), [], new InspectionLimits(), new SideExpectations { PlayedFlat = true });
    }
}
