using System.Collections.Immutable;
using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Audio.Tests.Meters;
using Xunit;

namespace Station.Audio.Tests.Findings;

public sealed class TurnRulesTests
{
    private static readonly SideReading Silence = TestSignal.Read(new float[2 * 48_000]);

    [Theory]
    [InlineData(33.6667, new[] { 100.0 / 3 }, 1.0)]
    [InlineData(33.0, new[] { 100.0 / 3 }, -1.0)]
    [InlineData(45.0, new[] { 100.0 / 3 }, 35.0)]         // 33 1/3 played at 45: computed, 45 / 33.3333
    [InlineData(79.0, new[] { 7200.0 / 92, 6000.0 / 77 }, 0.944)]
    [InlineData(34.3333, new double[0], 3.0)]
    public void A_wrong_speed_is_for_a_person(double rpm, double[] nominal, double error)
    {
        Finding finding = Assert.Single(Judge(rpm, nominal));
        Assert.Equal(FindingCodes.SpeedOff, finding.Code);
        Assert.Equal(Severity.Review, finding.Severity);
        Assert.Equal(error, Assert.NotNull(finding.Measured), 0.01);
    }

    [Theory]
    [InlineData(33.5, new[] { 100.0 / 3 })]                         // half a per cent, what IEC 60098 lets a recording be off
    [InlineData(77.92, new[] { 7200.0 / 92, 6000.0 / 77 })]
    [InlineData(78.26, new[] { 7200.0 / 92, 6000.0 / 77 })]
    [InlineData(33.75, new double[0])]
    [InlineData(16.64, new[] { 100.0 / 3 })]                        // every second turn of it
    [InlineData(22.56, new double[0])]                              // every second turn of 45
    [InlineData(45.113, new[] { 45.0 })]                            // a 133-bar strobe on mains of 50 Hz (computed)
    public void A_right_speed_is_not_remarked_on(double rpm, double[] nominal) => Assert.Empty(Judge(rpm, nominal));

    [Fact]
    public void Another_speed_on_purpose_is_right_and_an_unsure_turn_says_nothing()
    {
        Assert.Empty(Judge(45, [7200.0 / 92], playedAt: 45));
        Assert.Single(Judge(46, [7200.0 / 92], playedAt: 45));
        Assert.Empty(Judge(40, [45], confidence: 0.4));
    }

    [Fact]
    public void Crackle_scratches_and_wow_are_notes()
    {
        DiscReading turns = new()
        {
            TickRates = new TickRates(640, 64, 6, -60, null),
            Scratches = [new Scratch(48_000, 480_000, 6, 6, -14, 1.8), new Scratch(960_000, 9_600_000, 15, 15, -12, 1.8)],
            Sway = new Sway(1.02, 0.1),
        };
        ImmutableArray<Finding> findings = Of(turns);
        Assert.Equal(
            [FindingCodes.Crackle, FindingCodes.ScratchRadial, FindingCodes.Wow], findings.Select(finding => finding.Code).Order(StringComparer.Ordinal));
        Assert.All(findings, finding => Assert.Equal(Severity.Note, finding.Severity));
        Finding scratch = Assert.Single(findings, finding => finding.Code == FindingCodes.ScratchRadial);
        Assert.Equal(2, scratch.Spans.Length);
        Assert.Equal(1, scratch.Spans[0].StartSeconds, 1e-9);
        Assert.Equal(21, scratch.Count);

        Assert.Empty(Of(new DiscReading { TickRates = new TickRates(70, 7, 6, -60, 4000), Sway = new Sway(0.2, 0.01) }));
        Assert.Empty(Of(new DiscReading { Sway = new Sway(1, 0.8) }));
        Assert.Empty(Of(new DiscReading { TickRates = new TickRates(null, 20, 1, -60, null) }));
    }

    private static ImmutableArray<Finding> Judge(double rpm, double[] nominal, double? playedAt = null, double confidence = 0.9)
    {
        DiscReading turns = new() { Revolution = new RevolutionReading(60 / rpm, confidence, RevolutionSource.Surface) };
        return Of(turns, new SideExpectations { NominalRpm = [.. nominal], PlayedAtRpm = playedAt });
    }

    private static ImmutableArray<Finding> Of(DiscReading turns, SideExpectations? expected = null) =>
        [.. SideJudge.Judge(Silence with { Disc = turns }, [], new InspectionLimits(), expected).Findings.Where(finding =>
            finding.Code is FindingCodes.SpeedOff or FindingCodes.Crackle or FindingCodes.ScratchRadial or FindingCodes.Wow)];
}
