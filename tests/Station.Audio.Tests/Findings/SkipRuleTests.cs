using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Audio.Meters.Skips;
using Station.Audio.Tests.Meters;
using Xunit;

namespace Station.Audio.Tests.Findings;

/// <remarks>
/// Evidence is computed by hand from what the limits say of it: lead (at most 8) + 2 · (0.5 − continuity, at least −0.1) + 0.75 · (height − 10, −4 to 6) + 8 · (break, −0.2 to 0.7) + 4 · what the beat says
/// (−1 to 1 from 0.05 down to −0.9) + 4 · what the sheet says.
/// </remarks>
public sealed class SkipRuleTests
{
    [Theory]
    [InlineData(12.1, 7.7, 0.21, 0.55, -1.38, 14.96)]       // 4.4 + 0.58 + 1.575 + 4.4 + 4
    [InlineData(19, 8, 0.4, 0, null, 12.7)]                 // 8 + 0.2 + 4.5 + 0 + 0
    [InlineData(7.3, 6, 0.21, 0.54, -0.75, 7.64)]           // 1.3 + 0.58 − 2.025 + 4.32 + 4 · 0.8667: weak, but all cues agree
    [InlineData(12, 5, -0.4, 0.9, 0.2, 11.3)]               // 7 + 1.2 + 1.5 + 5.6 − 4: the beat goes on all the same, as by chance after whole beats
    public void Cues_add_up(double heightDb, double otherDb, double continuity, double breaks, double? beat, double evidence)
    {
        Finding finding = Assert.Single(Judge(new Knock(20, heightDb, continuity) { Break = breaks, Beat = beat }, new Knock(30, otherDb, 0.6)));
        Assert.Equal(FindingCodes.GrooveSkips, finding.Code);
        Assert.Equal(evidence, finding.Measured!.Value, 0.01);
    }

    [Theory]
    [InlineData(8.7, 4.8, 0.21, 0.1, -0.1)]                 // a bump of a quiet side
    [InlineData(12.6, 6.4, 0.87, 0, 0.04)]                  // the music goes on across
    [InlineData(15.2, 14, 0.2, 0.2, 0)]                     // one of several
    [InlineData(12, 7, 0.3, 0.3, 0.3)]                      // a bass drum in the beat: 5 + 0.4 + 1.5 + 2.4 − 4
    public void No_cue_alone_is_enough(double heightDb, double otherDb, double continuity, double breaks, double beat) =>
        Assert.Empty(Judge(new Knock(20, heightDb, continuity) { Break = breaks, Beat = beat }, new Knock(30, otherDb, 0.6)));

    [Fact]
    public void The_second_strongest_may_be_the_jump()
    {
        Finding finding = Assert.Single(Judge(
            new Knock(30, 9.5, 0.6) { Beat = 0.3 }, new Knock(20, 9, 0) { Break = 0.7, Beat = -1 }));
        Assert.Equal(20, finding.Spans[0].StartSeconds);
        Assert.Equal(9.35, finding.Measured!.Value, 0.01);   // −0.5 + 1 − 0.75 + 5.6 + 4
    }

    [Fact]
    public void A_bounce_is_no_other_burst() =>
        Assert.Single(Judge(new Knock(20, 14, 0.2) { Break = 0.4 }, new Knock(20.4, 13, 0.2), new Knock(30, 7, 0.6)));

    [Fact]
    public void A_burst_with_nothing_to_compare_is_none() => Assert.Empty(Judge(new Knock(20, 30, 0)));

    [Fact]
    public void A_track_shorter_than_printed_speaks_for_it()
    {
        Knock[] knocks = [new Knock(80, 9.5, 0.4) { Break = 0.3 }, new Knock(30, 6.5, 0.6)];
        SideReading reading = Reading(knocks) with
        {
            SampleRateHz = 8_000,
            Outline = new SideOutline { Steps = 6_000, StepFrames = 160, Music = [new StepSpan(250, 2_750), new StepSpan(2_850, 5_500)] },
        };
        SideExpectations complete = new() { TrackSeconds = [50, 53] };
        SideExpectations lacking = new() { TrackSeconds = [50, 58] };
        Finding finding = Assert.Single(SkipRule.Judge(reading, new InspectionLimits(), [], lacking));
        Assert.Equal(9.23, finding.Measured!.Value, 0.01);   // 3 + 0.2 − 0.375 + 2.4 + 4
        Assert.Empty(SkipRule.Judge(reading, new InspectionLimits(), [], complete));
        Finding late = new() { Code = FindingCodes.EndsEarly, Severity = Severity.Review, Message = "It ends inside the music.", Advice = "Play it again." };
        Assert.Empty(SkipRule.Judge(reading, new InspectionLimits(), [late], lacking));
    }

    private static Finding[] Judge(params Knock[] knocks) => [.. SkipRule.Judge(Reading(knocks), new InspectionLimits(), [], SideExpectations.None)];

    private static SideReading Reading(Knock[] knocks) =>
        TestSignal.Read(new float[2 * 8_000], 2, 8_000) with { Skips = new SkipReading { Knocks = [.. knocks] } };
}
