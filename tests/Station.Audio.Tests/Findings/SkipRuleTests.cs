using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Audio.Meters.Skips;
using Station.Audio.Tests.Meters;
using Xunit;

namespace Station.Audio.Tests.Findings;

/// <remarks>
/// Evidence is computed by hand from what the rule says of it: −27.3 + 4.8 · lead (−4 to 4) + 0.92 · height (0 to 10 below what is strong) + 16.9 · break (−0.2 to 0.8) + 0.57 · phases (−5 to 15)
/// − 24.9 · beat (−1.2 to 0.3) + 2.9 where the music breaks off just before the burst + 8 · what the sheet says + 10 for a joint.
/// </remarks>
public sealed class SkipRuleTests
{
    [Theory]
    [InlineData(12.1, 7.7, 0.21, 0.55, 6, -0.5, -0.06, 29.17)]   // −27.3 + 19.2 + 9.2 + 9.295 + 3.42 + 12.45 + 2.9
    [InlineData(19, 8, 0.4, 0.5, 0, null, 0, 9.55)]              // −27.3 + 19.2 + 9.2 + 8.45
    [InlineData(7.3, 6, 0.21, 0.54, 0, -0.75, 0, 13.46)]         // −27.3 + 6.24 + 6.716 + 9.126 + 18.675: weak, but all cues agree
    [InlineData(12, 5, -0.4, 0.9, 0, 0.2, 0, 9.64)]              // −27.3 + 19.2 + 9.2 + 13.52 − 4.98: the beat goes on all the same, as by chance after whole beats
    public void Cues_add_up(double heightDb, double otherDb, double continuity, double breaks, double phases, double? beat, double lag, double evidence)
    {
        Knock jump = new(20, heightDb, continuity) { Break = breaks, Phases = phases, Beat = beat, LagSeconds = lag };
        Finding finding = Assert.Single(Judge(jump, new Knock(30, otherDb, 0.6)));
        Assert.Equal(FindingCodes.GrooveSkips, finding.Code);
        Assert.Equal(evidence, finding.Measured!.Value, 0.01);
    }

    [Theory]
    [InlineData(8.7, 4.8, 0.21, 0.1, -0.1)]                 // a bump of a quiet side
    [InlineData(12.6, 6.4, 0.87, 0, 0.04)]                  // the music goes on across
    [InlineData(15.2, 14, 0.2, 0.2, 0)]                     // one of several
    [InlineData(12, 7, 0.3, 0.3, 0.3)]                      // a bass drum in the beat: −27.3 + 19.2 + 9.2 + 5.07 − 7.47
    public void No_cue_alone_is_enough(double heightDb, double otherDb, double continuity, double breaks, double beat) =>
        Assert.Empty(Judge(new Knock(20, heightDb, continuity) { Break = breaks, Beat = beat }, new Knock(30, otherDb, 0.6)));

    [Fact]
    public void The_second_strongest_may_be_the_jump()
    {
        Finding finding = Assert.Single(Judge(
            new Knock(30, 9.5, 0.6) { Beat = 0.3 }, new Knock(20, 9, 0) { Break = 0.7, Beat = -1 }));
        Assert.Equal(20, finding.Spans[0].StartSeconds);
        Assert.Equal(15.31, finding.Measured!.Value, 0.01);  // −27.3 − 2.4 + 8.28 + 11.83 + 24.9
    }

    [Fact]
    public void A_bounce_is_no_other_burst() =>
        Assert.Single(Judge(new Knock(20, 14, 0.2) { Break = 0.5 }, new Knock(20.4, 13, 0.2), new Knock(30, 7, 0.6)));

    [Fact]
    public void A_burst_with_nothing_to_compare_is_none() => Assert.Empty(Judge(new Knock(20, 30, 0)));

    [Fact]
    public void A_track_shorter_than_printed_speaks_for_it()
    {
        Knock[] knocks = [new Knock(80, 9.5, 0.4) { Break = 0.4 }, new Knock(30, 6.5, 0.6)];
        SideReading reading = Reading(knocks) with
        {
            SampleRateHz = 8_000,
            Outline = new SideOutline { Steps = 6_000, StepFrames = 160, Music = [new StepSpan(250, 2_750), new StepSpan(2_850, 5_500)] },
        };
        SideExpectations complete = new() { TrackSeconds = [50, 53] };
        SideExpectations lacking = new() { TrackSeconds = [50, 58] };
        Finding finding = Assert.Single(SkipRule.Judge(reading, new InspectionLimits(), [], lacking, []));
        Assert.Equal(10.6, finding.Measured!.Value, 0.01);   // −27.3 + 14.4 + 8.74 + 6.76 + 8
        Assert.Empty(SkipRule.Judge(reading, new InspectionLimits(), [], complete, []));
        Finding late = new() { Code = FindingCodes.EndsEarly, Severity = Severity.Review, Message = "It ends inside the music.", Advice = "Play it again." };
        Assert.Empty(SkipRule.Judge(reading, new InspectionLimits(), [late], lacking, []));
    }

    [Fact]
    public void A_joint_at_the_burst_speaks_for_it_and_one_elsewhere_does_not()
    {
        SideReading reading = Reading([new Knock(20, 9.5, 0.4) { Break = 0.3 }, new Knock(30, 6.5, 0.6)]);
        Assert.Empty(SkipRule.Judge(reading, new InspectionLimits(), [], SideExpectations.None, [19.8, 20.2]));
        Finding finding = Assert.Single(SkipRule.Judge(reading, new InspectionLimits(), [], SideExpectations.None, [19.9]));
        Assert.Equal(10.91, finding.Measured!.Value, 0.01);  // −27.3 + 14.4 + 8.74 + 5.07 + 10
    }

    private static Finding[] Judge(params Knock[] knocks) => [.. SkipRule.Judge(Reading(knocks), new InspectionLimits(), [], SideExpectations.None, [])];

    private static SideReading Reading(Knock[] knocks) =>
        TestSignal.Read(new float[2 * 8_000], 2, 8_000) with { Skips = new SkipReading { Knocks = [.. knocks] } };
}
