using System.Collections.Immutable;
using Station.Audio.Findings;
using Station.Daemon.Jobs;
using Station.Daemon.Records;
using Station.Daemon.Stages;
using Xunit;

namespace Station.Daemon.Tests.Stages;

public sealed class ExpectedFaultsTests
{
    private static readonly RecordSheet Sheet = SheetReader.Read(
        """
        record: HL-0031
        expected:
          - { code: groove-skips, side: A, from: "3:10", to: "3:14", why: "pressing fault, same on a second copy" }
          - { code: level-low, side: B }
          - { code: contact-dropout, channel: left }
        """,
        "HL-0031.sheet.yaml",
        SheetShelf.FindingCodes).Sheet!;

    [Theory]
    [InlineData("groove-skips", "A", null, 191, 193, true)]
    [InlineData("groove-skips", "A", null, 188, 196, true)]      // three seconds of latitude at either end
    [InlineData("groove-skips", "A", null, 186, 193, false)]     // begins earlier than what is known
    [InlineData("groove-skips", "A", null, 191, 218, false)]     // reaches further
    [InlineData("groove-skips", "B", null, 191, 193, false)]     // another side
    [InlineData("groove-repeats", "A", null, 191, 193, false)]   // another fault
    [InlineData("level-low", "B", null, 0, 0, true)]
    [InlineData("level-low", "A", null, 0, 0, false)]
    [InlineData("contact-dropout", "A", FindingChannel.Left, 20, 21, true)]
    [InlineData("contact-dropout", "A", FindingChannel.Right, 20, 21, false)]
    [InlineData("contact-dropout", "A", FindingChannel.Both, 20, 21, false)]
    public void A_finding_that_the_sheet_lists_becomes_a_note(string code, string sides, FindingChannel? channel, double from, double to, bool expected)
    {
        Finding finding = Of(code, channel, to > 0 ? [new SecondsSpan(from, to)] : []);
        Finding marked = Assert.Single(ExpectedFaults.Mark([finding], Sheet, sides, []));
        Assert.Equal(expected ? Severity.Note : Severity.Review, marked.Severity);
        Assert.Equal(expected, marked.Message.Contains("Expected of this copy", StringComparison.Ordinal));
    }

    [Fact]
    public void One_span_outside_keeps_all_of_the_finding()
    {
        Finding finding = Of("groove-skips", null, [new SecondsSpan(191, 193), new SecondsSpan(300, 301)]);
        Assert.Equal(Severity.Review, ExpectedFaults.Mark([finding], Sheet, "A", [])[0].Severity);
    }

    [Fact]
    public void In_a_capture_of_several_sides_times_count_from_the_sides_beginning()
    {
        ImmutableArray<(SideLetter, double, double)> spans = [(SideLetter.Of('B'), 5, 400), (SideLetter.Of('A'), 420, 900)];
        Assert.Equal(Severity.Note, ExpectedFaults.Mark([Of("groove-skips", null, [new SecondsSpan(611, 613)])], Sheet, "BA", spans)[0].Severity);
        Assert.Equal(Severity.Review, ExpectedFaults.Mark([Of("groove-skips", null, [new SecondsSpan(191, 193)])], Sheet, "BA", spans)[0].Severity);
        Assert.Equal(Severity.Review, ExpectedFaults.Mark([Of("level-low", null, [])], Sheet, "BA", spans)[0].Severity);
    }

    [Fact]
    public void Why_is_said_and_nothing_changes_without_a_sheet()
    {
        Finding finding = Of("groove-skips", null, [new SecondsSpan(191, 193)]);
        Assert.EndsWith("Expected of this copy: pressing fault, same on a second copy", ExpectedFaults.Mark([finding], Sheet, "A", [])[0].Message, StringComparison.Ordinal);
        Assert.Same(finding, ExpectedFaults.Mark([finding], sheet: null, "A", [])[0]);
    }

    private static Finding Of(string code, FindingChannel? channel, ImmutableArray<SecondsSpan> spans) => new()
    {
        Code = code,
        Severity = Severity.Review,
        Channel = channel,
        Spans = spans,
        Message = "Found.",
        Advice = "Look.",
    };
}
