using System.Collections.Immutable;
using Station.Audio.Division;
using Station.Audio.Findings;
using Xunit;

namespace Station.Audio.Tests.Division;

/// <remarks>That a single holds up to five minutes and its sides one piece is common practice, no source.</remarks>
public sealed class SmallDiscTests
{
    [Theory]
    [InlineData(45.0, 1)]
    [InlineData(45.9, 1)]
    [InlineData(44.1, 1)]
    [InlineData(33.333, 2)]
    [InlineData(78.26, 2)]
    [InlineData(null, 2)]
    public void A_single_with_a_pause_is_not_split(double? rpm, int tracks)
    {
        GrooveModel side = Side(301, 60, 1.5, 110);
        SideDivision division = Divide(side, DivisionGuide.None with { Rpm = rpm });
        Assert.Equal(tracks, division.Tracks.Length);
        Assert.Empty(division.Findings);
        Assert.Equal(side.Tracks[0].Start, Seconds(division.Tracks[0].FirstFrame), 0.3);
        Assert.Equal(side.Tracks[^1].End, Seconds(division.Tracks[^1].EndFrame), 0.3);
    }

    [Theory]
    [InlineData(170, 2.5, 160)]
    [InlineData(150, 4, 220)]
    public void Two_tracks_at_45_without_a_sheet_are_for_a_person(double first, double gap, double second)
    {
        GrooveModel side = Side(302, first, gap, second);
        SideDivision division = Divide(side, DivisionGuide.None with { Rpm = 45 });
        Assert.Equal(2, division.Tracks.Length);
        Finding finding = Assert.Single(division.Findings);
        Assert.Equal((FindingCodes.DivisionUnsure, Severity.Review), (finding.Code, finding.Severity));
        Assert.Contains("45 rev/min with 2 tracks", finding.Message, StringComparison.Ordinal);
        Assert.Equal(side.Tracks[1].Start, Seconds(division.Tracks[1].FirstFrame), 0.3);
    }

    [Fact]
    public void What_may_be_either_is_left_whole_and_asked_about()
    {
        GrooveModel side = Side(303, 120, 2.5, 125);
        SideDivision division = Divide(side, DivisionGuide.None with { Rpm = 45 });
        Assert.Single(division.Tracks);
        Assert.Equal(FindingCodes.DivisionUnsure, Assert.Single(division.Findings).Code);
        OtherPlace place = Assert.Single(division.OtherPlaces);
        Assert.Equal(side.Tracks[1].Start, Seconds(place.StartFrame), 0.3);
        Assert.Null(place.InsteadOf);
    }

    [Theory]
    [InlineData(1, 1)]
    [InlineData(2, 2)]
    public void The_sheet_settles_it(int count, int tracks)
    {
        GrooveModel side = Side(304, 120, 2.5, 125);
        SideDivision division = Divide(side, new DivisionGuide(count, []) { Rpm = 45 });
        Assert.Equal(tracks, division.Tracks.Length);
        Assert.DoesNotContain(division.Findings, finding => finding.Code == FindingCodes.DivisionUnsure);
    }

    [Fact]
    public void How_long_a_single_may_be_is_a_setting()
    {
        GrooveModel side = Side(305, 60, 2, 110);
        SideDivision division = SideDivider.Divide(side.Envelope(), new DivisionSettings { LongestSingleSeconds = 160 }, DivisionGuide.None with { Rpm = 45 });
        Assert.Equal(2, division.Tracks.Length);
        Assert.Equal(FindingCodes.DivisionUnsure, Assert.Single(division.Findings).Code);
    }

    private static GrooveModel Side(int seed, double first, double gap, double second)
    {
        GrooveModel side = new(seed, -58);
        return side.NeedleUp(2).Thump(0.25).Groove(3).Music(first).Groove(gap).Music(second).Groove(2).RunOut(12, 1.333).Thump(0.2).NeedleUp(2);
    }

    private static SideDivision Divide(GrooveModel side, DivisionGuide guide) => SideDivider.Divide(side.Envelope(), new DivisionSettings(), guide);

    private static double Seconds(long frame) => frame / 48_000.0;
}
