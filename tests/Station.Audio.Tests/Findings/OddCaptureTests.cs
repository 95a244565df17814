using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Audio.Tests.Meters;
using Xunit;

namespace Station.Audio.Tests.Findings;

/// <summary>Captures that are no side at all get a report that says so; what has no meaning in them is null, and nothing throws.</summary>
public sealed class OddCaptureTests
{
    private const int RateHz = 44_100;

    public static TheoryData<string, int, int> Shapes
    {
        get
        {
            TheoryData<string, int, int> data = [];
            foreach (string kind in new[] { "nothing", "one sample", "silence", "constant", "square", "not a number", "hum", "tone", "noise" })
            {
                foreach (int rateHz in new[] { 8_000, 44_100, 192_000 })
                {
                    foreach (int channels in new[] { 1, 2 })
                    {
                        data.Add(kind, rateHz, channels);
                    }
                }
            }

            return data;
        }
    }

    [Theory]
    [MemberData(nameof(Shapes))]
    public void Every_odd_capture_gets_a_judgement_with_finite_figures(string kind, int rateHz, int channels)
    {
        float[] samples = Make(kind, rateHz, channels);
        SideReading reading = TestSignal.Read(samples, channels, rateHz, 32, WordFormat.Float32);
        Judgement judgement = SideJudge.Judge(reading, [], new InspectionLimits());

        Assert.Equal(samples.Length / channels, reading.Frames);
        Assert.All(judgement.Findings, finding =>
        {
            Assert.True(finding.Measured is null || double.IsFinite(finding.Measured.Value), $"{finding.Code}: {finding.Measured}");
            Assert.True(finding.Limit is null || double.IsFinite(finding.Limit.Value), $"{finding.Code}: {finding.Limit}");
            Assert.All(finding.Spans, span => Assert.True(
                span.StartSeconds >= 0 && span.EndSeconds >= span.StartSeconds && span.EndSeconds <= ((double)reading.Frames / rateHz) + 1e-6, $"{finding.Code}: {span}"));
            Assert.False(string.IsNullOrWhiteSpace(finding.Message));
            Assert.False(string.IsNullOrWhiteSpace(finding.Advice));
            Assert.True(channels == 2 || finding.Channel is null, $"{finding.Code} names a channel of a mono capture");
        });
        if (kind is "nothing" or "silence")
        {
            Assert.Null(reading.LoudnessLufs);
            Assert.All(reading.SamplePeakDbfs, peak => Assert.Null(peak));
            Assert.All(reading.RmsDbfs, rms => Assert.Null(rms));
            Assert.Contains(judgement.Findings, finding => finding.Code == FindingCodes.LevelLow);
        }

        // No disc is in any of them: nothing may be said of its turns.
        string[] ofDiscs = [FindingCodes.SpeedOff, FindingCodes.GrooveSkips, FindingCodes.GrooveRepeats, FindingCodes.ScratchRadial, FindingCodes.LockedGroove];
        Assert.DoesNotContain(judgement.Findings, finding => ofDiscs.Contains(finding.Code));
    }

    [Fact]
    public void A_square_wave_at_full_scale_is_clipped_and_a_quiet_one_is_not()
    {
        Assert.Contains(Judge("square", 1f), finding => finding.Code == FindingCodes.ClippedConverter);
        Assert.DoesNotContain(Judge("square", 0.25f), finding => finding.Code is FindingCodes.ClippedConverter or FindingCodes.ClippedUpstream);
    }

    private static IEnumerable<Finding> Judge(string kind, float gain) => SideJudge.Judge(
        TestSignal.Read(TestSignal.Converted(Make(kind, RateHz, 2).Select(sample => gain * sample), 16), 2, RateHz, 16, WordFormat.Int16), [], new InspectionLimits()).Findings;

    private static float[] Make(string kind, int rateHz, int channels)
    {
        int frames = kind switch { "nothing" => 0, "one sample" => 1, _ => rateHz * 20 };
        var random = new Random(7);
        float[] samples = new float[frames * channels];
        for (int i = 0; i < samples.Length; i++)
        {
            int frame = i / channels;
            samples[i] = kind switch
            {
                "one sample" => 0.5f,
                "constant" => 0.5f,
                "square" => frame % 80 < 40 ? 1 : -1,
                "not a number" => frame % 5 == 0 ? float.NaN : 0.1f,
                "hum" => (float)(0.01 * Math.Sin(2 * Math.PI * 50 * frame / rateHz)),
                "tone" => (float)(0.3 * Math.Sin(2 * Math.PI * 997 * frame / rateHz)),
                "noise" => 0.1f * (random.NextSingle() - 0.5f),
                _ => 0,
            };
        }

        return samples;
    }
}
