using System.Collections.Immutable;
using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Audio.Meters;
using Xunit;

namespace Station.Audio.Tests.Division;

/// <summary>Sides and sheets that make no sense end with tracks and a finding, or with a finding alone; never without a word, and never late.</summary>
public sealed class BadGuideTests
{
    [Theory]
    [InlineData(null)]
    [InlineData(99)]
    [InlineData(500)]
    public void Five_hundred_gaps_leave_no_doubt_that_somebody_must_look(int? count)
    {
        GrooveModel side = Started(201);
        for (int i = 0; i < 501; i++)
        {
            side.Music(3).Groove(1);
        }

        SideDivision division = Divide(side, new DivisionGuide(count, []));
        AssertWhole(side, division);

        Assert.Equal(Verdict.Review, VerdictRule.Of(division.Findings));
        Assert.True(count is not 99 || division.Tracks.Length == 99);
        Assert.True(count is not null || division.Findings.Any(f => f.Message.Contains("clear gaps were not cut", StringComparison.Ordinal)));
    }

    [Theory]
    [InlineData(0, 3)]
    [InlineData(-1, 3)]
    public void A_count_of_none_is_no_count(int count, int tracks)
    {
        GrooveModel side = Started(202).Music(150).Groove(3).Music(160).Groove(3).Music(170).Groove(10);
        SideDivision division = Divide(side, new DivisionGuide(count, []));
        Assert.Equal(tracks, division.Tracks.Length);
        AssertWhole(side, division);
    }

    [Theory]
    [InlineData(99, null)]
    [InlineData(99, 13.0)]
    [InlineData(99, 5000.0)]
    [InlineData(99, 0.5)]
    [InlineData(999, 1.0)]
    public void Ninety_nine_tracks_on_a_side_of_three_are_a_finding(int count, double? length)
    {
        GrooveModel side = Started(203).Music(150).Groove(3).Music(160).Groove(3).Music(170).Groove(10);
        SideDivision division = Divide(side, new DivisionGuide(count, length is null ? [] : [.. Enumerable.Repeat(length, count)]));
        AssertWhole(side, division);
        Assert.Equal(Verdict.Review, VerdictRule.Of(division.Findings));
        Assert.All(division.Findings, finding => Assert.NotEmpty(finding.Advice));
    }

    [Fact]
    public void Lengths_longer_than_the_side_are_a_finding_that_names_the_tracks()
    {
        GrooveModel side = Started(204).Music(150).Groove(3).Music(160).Groove(3).Music(170).Groove(10);
        SideDivision division = Divide(side, new DivisionGuide(3, [1500, 1600, 1700]));
        AssertWhole(side, division);
        Assert.Equal(3, division.Tracks.Length);
        Finding finding = Assert.Single(division.Findings, f => f.Code == FindingCodes.TracksUnexpected);
        Assert.Equal((3, 3), (finding.Count ?? 0, finding.Spans.Length));
    }

    [Fact]
    public void Lengths_for_another_number_of_tracks_are_not_used()
    {
        GrooveModel side = Started(205).Music(150).Groove(3).Music(160).Groove(10);
        Assert.Equal(Divide(side, new DivisionGuide(2, [])).Tracks, Divide(side, new DivisionGuide(2, [10, 20, 30])).Tracks);
    }

    [Theory]
    [InlineData(1)]
    [InlineData(20)]
    [InlineData(49)]
    public void A_capture_shorter_than_a_second_says_something(int steps)
    {
        float[] level = [.. Enumerable.Repeat(0.01f, steps)];
        SideDivision division = SideDivider.Divide(LevelEnvelope.FromSeries(48_000, 960, steps * 960L, (level, level, level)), new DivisionSettings(), new DivisionGuide(3, [100, 200, 300]));
        Assert.True(division.Tracks.Length > 0 || division.Findings.Length > 0);
        Assert.Equal(Verdict.Review, VerdictRule.Of(division.Findings));
    }

    [Fact]
    public void The_places_that_are_tried_are_bounded()
    {
        // The most there can be: as many gaps as are ever weighed, and lengths that lead on from each.
        Gap[] gaps = [.. Enumerable.Range(0, 160).Select(i => new Gap(1000 + (i * 400), 1040 + (i * 400), 0.9))];
        var map = new MusicMap(0, 66_000, gaps, []);
        int places = Place.All(map, gaps, [], [.. Enumerable.Range(0, 99).Select(i => (double?)(11 + (i % 5)))], 1).Count();
        Assert.InRange(places, 160, 160 + (98 * 60));
    }

    private static GrooveModel Started(int seed) => new GrooveModel(seed, -58).NeedleUp(2).Thump(0.25).Groove(4);

    private static SideDivision Divide(GrooveModel side, DivisionGuide guide) => SideDivider.Divide(side.Envelope(), new DivisionSettings(), guide);

    private static void AssertWhole(GrooveModel side, SideDivision division)
    {
        Assert.NotEmpty(division.Tracks);
        long previous = 0;
        foreach (TrackSpan track in division.Tracks)
        {
            Assert.InRange(track.FirstFrame, previous, track.EndFrame - 1);
            previous = track.EndFrame;
        }

        Assert.InRange(previous, 1, side.Envelope().TotalFrames);
    }
}
