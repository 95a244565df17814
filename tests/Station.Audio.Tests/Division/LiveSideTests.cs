using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Audio.Meters;
using Xunit;

namespace Station.Audio.Tests.Division;

/// <remarks>A concert: applause follows each piece, sinks to a murmur, and the next one begins; no gap anywhere. The truth is the model's own.</remarks>
public sealed class LiveSideTests
{
    [Theory]
    [InlineData(401, 0)]
    [InlineData(402, 3)]
    [InlineData(403, -4)]
    public void With_lengths_pieces_are_parted_where_the_crowd_is_quietest(int seed, double misprintSeconds)
    {
        GrooveModel side = Side(seed);
        SideDivision division = SideDivider.Divide(side.Envelope(), new DivisionSettings(), new DivisionGuide(4, [120, 100 + misprintSeconds, 140, 90]));

        Assert.Equal(4, division.Tracks.Length);

        // The tolerance of docs/evaluation.md: a start from 3 s before to 1 s after the first note.
        for (int i = 1; i < 4; i++)
        {
            Assert.InRange(Seconds(division.Tracks[i].FirstFrame), side.Tracks[i].Start - 3, side.Tracks[i].Start + 1);
            Assert.Equal(division.Tracks[i].FirstFrame, division.Tracks[i - 1].EndFrame);
        }

        Assert.Contains(division.Findings, finding => finding.Code == FindingCodes.DivisionUnsure);
    }

    [Fact]
    public void A_side_with_all_its_gaps_is_not_cut_at_a_dip_whatever_is_misprinted()
    {
        GrooveModel side = new(406, -60);
        side.NeedleUp(2).Thump(0.25).Groove(4).Music(90).Groove(1.5).Music(40).Crowd(3, -45, -45).Music(20).Groove(1.5).Music(80);
        side.Groove(2).RunOut(18, 1.8).Thump(0.2).NeedleUp(2);
        SideDivision division = SideDivider.Divide(side.Envelope(), new DivisionSettings(), new DivisionGuide(3, [90, 20, 80]));

        Assert.Equal(3, division.Tracks.Length);
        Assert.Equal(side.Tracks[1].Start, Seconds(division.Tracks[1].FirstFrame), 0.3);
        Assert.Equal(side.Tracks[3].Start, Seconds(division.Tracks[2].FirstFrame), 0.3);
    }

    [Fact]
    public void A_count_alone_cuts_no_concert()
    {
        SideDivision division = SideDivider.Divide(Side(404).Envelope(), new DivisionSettings(), new DivisionGuide(4, []));
        Assert.Equal(FindingCodes.TracksUnexpected, Assert.Single(division.Findings).Code);
        Assert.Single(division.Tracks);
    }

    [Fact]
    public void The_deepest_dips_lie_between_the_pieces()
    {
        GrooveModel side = Side(405);
        GrooveLevel level = GrooveLevel.Of(side.Envelope());
        Dip[] all = [.. DipFinder.Find(level, (int)(side.Tracks[0].Start * 50), (int)(side.Tracks[^1].End * 50))];
        Assert.Equal(all.OrderBy(dip => dip.Step), all);
        Assert.InRange(all.Length, 3, 60);
        Dip[] dips = [.. all.OrderByDescending(dip => dip.DepthDb).Take(3).OrderBy(dip => dip.Step)];
        Assert.All(dips.Zip(side.Tracks.Skip(1)), pair =>
        {
            Assert.Equal(pair.Second.Start, pair.First.Step / 50.0, 1.5);
            Assert.InRange(pair.First.DepthDb, 8, 40);
        });
        Assert.Empty(DipFinder.Find(level, 1000, 1100));
        Assert.Empty(DipFinder.Find(level, 0, 0));
    }

    private static GrooveModel Side(int seed)
    {
        GrooveModel side = new(seed, -62);
        side.NeedleUp(2).Thump(0.25).Groove(4).Crowd(3, -48, -42);
        side.Music(120).Crowd(8, -22, -44).Music(100).Crowd(6, -24, -42).Music(140).Crowd(10, -20, -46).Music(90).Crowd(7, -22, -50);
        return side.Groove(3).RunOut(18, 1.8).Thump(0.2).NeedleUp(2);
    }

    private static double Seconds(long frame) => frame / 48_000.0;
}
