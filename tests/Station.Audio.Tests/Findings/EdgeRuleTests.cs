using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Audio.Synthesis;
using Station.Audio.Tests.Meters;
using Station.Audio.Tests.Synthesis;
using Xunit;

namespace Station.Audio.Tests.Findings;

/// <remarks>The truth is where a synthesised side was cut; limits are this project's own.</remarks>
public sealed class EdgeRuleTests
{
    private const int RateHz = 22_050;

    private static readonly string[] Codes = [FindingCodes.BeginsLate, FindingCodes.EndsEarly, FindingCodes.DeadAir];

    private static readonly Heard Side = new(new SidePlan
    {
        Seed = 71,
        SampleRateHz = RateHz,
        Tracks = [new TrackPlan { Seconds = 24 }, new TrackPlan { Seconds = 20, FadeOutSeconds = 0 }],
        PostRollSeconds = 2,
    });

    [Fact]
    public void A_whole_side_has_both_its_edges() => Assert.Empty(Judge(0, Side.Left.Length));

    [Fact]
    public void A_capture_from_lead_in_to_run_out_has_them_too()
    {
        int from = (int)(Side.Truth.Tracks[0].AudibleStartFrame - (0.8 * RateHz));
        int to = (int)(Side.Truth.Tracks[^1].MusicEndFrame + (3.5 * RateHz));
        Assert.Empty(Judge(from, to));
    }

    [Fact]
    public void Music_at_the_first_frame_begins_late()
    {
        Finding finding = Assert.Single(Judge((int)Side.Truth.Tracks[0].AudibleStartFrame + (6 * RateHz), Side.Left.Length));
        Assert.Equal((FindingCodes.BeginsLate, Severity.Retake), (finding.Code, finding.Severity));
    }

    [Fact]
    public void Music_at_the_last_frame_ends_early()
    {
        Finding finding = Assert.Single(Judge(0, (int)Side.Truth.Tracks[^1].MusicEndFrame - (7 * RateHz)));
        Assert.Equal((FindingCodes.EndsEarly, Severity.Review), (finding.Code, finding.Severity));
    }

    [Fact]
    public void A_track_that_has_hardly_begun_at_the_last_frame_ends_early()
    {
        Finding finding = Assert.Single(Judge(0, (int)Side.Truth.Tracks[1].AudibleStartFrame + (4 * RateHz)));
        Assert.Equal((FindingCodes.EndsEarly, Severity.Review), (finding.Code, finding.Severity));
    }

    [Fact]
    public void The_end_of_a_track_at_the_first_frame_begins_late()
    {
        Finding finding = Assert.Single(Judge((int)Side.Truth.Tracks[0].MusicEndFrame - (6 * RateHz), Side.Left.Length));
        Assert.Equal(FindingCodes.BeginsLate, finding.Code);
    }

    [Fact]
    public void Parts_of_a_take_may_be_cut_inside_the_music()
    {
        SideExpectations part = new() { BeginsInside = true, GoesOn = true };
        Assert.Empty(Judge((int)Side.Truth.Tracks[0].AudibleStartFrame + (6 * RateHz), (int)Side.Truth.Tracks[^1].MusicEndFrame - (7 * RateHz), part));
    }

    [Theory]
    [InlineData(46, false)]       // as printed
    [InlineData(52, false)]       // printed lengths are off by some per cent
    [InlineData(63, false)]       // a 33⅓ played at 45 lasts 0.74 of its time
    [InlineData(120, true)]
    public void A_side_far_shorter_than_its_sheet_says_ended_early(double printedSeconds, bool early)
    {
        IReadOnlyList<Finding> findings = Judge(0, Side.Left.Length, new SideExpectations { MusicSeconds = printedSeconds });
        Assert.Equal(early ? [FindingCodes.EndsEarly] : [], findings.Select(finding => finding.Code));
    }

    [Fact]
    public void A_disc_played_faster_on_purpose_is_as_much_shorter()
    {
        var expected = new SideExpectations { MusicSeconds = 46 * 78 / (100 / 3.0), NominalRpm = [100 / 3.0], PlayedAtRpm = 78 };
        Assert.Empty(Judge(0, Side.Left.Length, expected));
    }

    [Theory]
    [InlineData(20, false)]
    [InlineData(120, true)]
    public void Minutes_after_the_lift_are_a_remark(double seconds, bool told)
    {
        Random random = new(3);
        int more = (int)(seconds * RateHz);

        // As the electronics go on: −88 dBFS re a full-scale sine, the plan's default.
        double noise = TestSignal.Amplitude(-88 - 3.01) * Math.Sqrt(12);
        float[] left = [.. Side.Left, .. Enumerable.Range(0, more).Select(_ => (float)(noise * (random.NextDouble() - 0.5)))];
        float[] right = [.. Side.Right, .. Enumerable.Range(0, more).Select(_ => (float)(noise * (random.NextDouble() - 0.5)))];
        IReadOnlyList<Finding> findings = Judge(left, right, null);
        Assert.Equal(told ? [FindingCodes.DeadAir] : [], findings.Select(finding => finding.Code));
        if (told)
        {
            SecondsSpan span = Assert.Single(findings[0].Spans);
            Assert.Equal(Side.Truth.LiftSeconds, span.StartSeconds, 1.0);
            Assert.Equal(left.Length / (double)RateHz, span.EndSeconds, 0.05);
        }
    }

    [Fact]
    public void Silence_and_nothing_have_no_edges()
    {
        Assert.Empty(Judge(new float[20 * RateHz], new float[20 * RateHz], null));
        Assert.Empty(Judge([0.1f], [0.2f], null));
        Assert.Empty(Judge([], [], null));
    }

    private static IReadOnlyList<Finding> Judge(int from, int to, SideExpectations? expected = null) => Judge(Side.Left[from..to], Side.Right[from..to], expected);

    private static IReadOnlyList<Finding> Judge(float[] left, float[] right, SideExpectations? expected)
    {
        SideReading reading = TestSignal.Read(TestSignal.Stereo(left, right), rateHz: RateHz, bits: 16, words: WordFormat.Int16);
        return [.. SideJudge.Judge(reading, [], new InspectionLimits(), expected).Findings.Where(finding => Codes.Contains(finding.Code))];
    }
}
