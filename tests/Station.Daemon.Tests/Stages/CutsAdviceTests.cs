using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Daemon.Jobs;
using Station.Daemon.Stages;
using Xunit;

namespace Station.Daemon.Tests.Stages;

public sealed class CutsAdviceTests
{
    [Theory]
    [InlineData(FindingCodes.DivisionUnsure, Severity.Review, true)]
    [InlineData(FindingCodes.TracksUnexpected, Severity.Review, true)]
    [InlineData(FindingCodes.TracksUnexpected, Severity.Note, false)]
    [InlineData(FindingCodes.SideChangeInside, Severity.Review, false)]
    public void Findings_that_doubt_the_cuts_quote_the_command_that_fixes_them(string code, Severity severity, bool told)
    {
        string advice = CutsAdvice.AddTo(Divided(code, severity), "HL-0031", "B", part: false).Findings.Single().Advice;

        Assert.StartsWith("Listen.", advice, StringComparison.Ordinal);
        Assert.Equal(told, advice.EndsWith("stationd divide HL-0031 B --cue HL-0031-B.cue", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData("AB", false)]
    [InlineData("A", true)]
    public void Nothing_is_advised_that_is_not_possible(string sides, bool part) =>
        Assert.Equal("Listen.", CutsAdvice.AddTo(Divided(FindingCodes.DivisionUnsure, Severity.Review), "HL-0031", sides, part).Findings.Single().Advice);

    [Fact]
    public void Where_there_is_no_music_a_cue_sheet_is_no_cure() =>
        Assert.Equal("Listen.", CutsAdvice.AddTo(Divided(FindingCodes.DivisionUnsure, Severity.Review) with { Confidence = 0 }, "HL-0031", "A", part: false).Findings.Single().Advice);

    private static DivideResult Divided(string code, Severity severity) => new(
        DivisionMethod.Gaps, 0.4, [new DividedTrack("A", 1, null, 0, 1000, 0.4)], [new Finding { Code = code, Severity = severity, Message = "Doubt.", Advice = "Listen." }]);
}
