using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Audio.Meters.Skips;
using Station.Audio.Tests.Meters;
using Xunit;

namespace Station.Audio.Tests.Findings;

/// <remarks>Evidence is computed by hand from what the limits say of it: lead + 2 · (0.5 − continuity) + 0.5 · (height − 10, −4 to 4).</remarks>
public sealed class SkipRuleTests
{
    [Theory]
    [InlineData(12.1, 7.7, 0.21, 6.03)]         // a small lead, but strong in itself and nothing goes on
    [InlineData(19, 8, 0.4, 13.2)]
    [InlineData(14.3, 9.6, 0.42, 6.86)]
    public void Cues_add_up(double heightDb, double otherDb, double continuity, double evidence)
    {
        Finding finding = Assert.Single(Judge(new Knock(20, heightDb, continuity), new Knock(30, otherDb, 0.6)));
        Assert.Equal(FindingCodes.GrooveSkips, finding.Code);
        Assert.Equal(evidence, finding.Measured!.Value, 0.01);
    }

    [Theory]
    [InlineData(8.7, 4.8, 0.21)]                // a bump of a quiet side: 3.8
    [InlineData(12.6, 6.4, 0.87)]               // the music goes on across
    [InlineData(15.2, 14, 0.2)]                 // one of several
    public void No_cue_alone_is_enough(double heightDb, double otherDb, double continuity) =>
        Assert.Empty(Judge(new Knock(20, heightDb, continuity), new Knock(30, otherDb, 0.6)));

    [Fact]
    public void A_bounce_is_no_other_burst() =>
        Assert.Single(Judge(new Knock(20, 14, 0.2), new Knock(20.4, 13, 0.2), new Knock(30, 7, 0.6)));

    [Fact]
    public void A_burst_with_nothing_to_compare_is_none() => Assert.Empty(Judge(new Knock(20, 30, 0)));

    private static Finding[] Judge(params Knock[] knocks) => [.. SkipRule.Judge(
        TestSignal.Read(new float[2 * 8_000], 2, 8_000) with { Skips = new SkipReading { Knocks = [.. knocks] } }, new InspectionLimits(), [])];
}
