using System.Collections.Immutable;
using Station.Audio.Division;
using Station.Audio.Findings;
using Xunit;

namespace Station.Audio.Tests.Division;

/// <remarks>The truth is the model's own, as in <see cref="SideDividerTests"/>.</remarks>
public sealed class OtherPlacesTests
{
    [Fact]
    public void The_gap_that_was_not_taken_is_told_beside_the_one_that_was()
    {
        // Three like gaps, two tracks by the sheet, no lengths: which of them it is nobody can hear.
        GrooveModel side = new(101, -58);
        side.Groove(4).Music(150).Groove(2).Music(160).Groove(2).Music(170).Groove(2).Music(180).Groove(10);
        SideDivision division = Divide(side, new DivisionGuide(2, []));

        (double Start, double End)[] truth = [.. side.Tracks];
        double cut = Seconds(division.Tracks[1].FirstFrame);
        double[] others = [.. truth.Skip(1).Select(track => track.Start).Where(start => Math.Abs(start - cut) > 1)];
        Assert.Equal(2, others.Length);
        Assert.Equal(others.Length, division.OtherPlaces.Length);
        Assert.All(division.OtherPlaces.Zip(others), pair =>
        {
            Assert.Equal(2, pair.First.InsteadOf);
            Assert.Equal(pair.Second, Seconds(pair.First.StartFrame), 0.3);
            Assert.Equal(2, Seconds(pair.First.StartFrame - pair.First.EndFrame), 0.3);
            Assert.StartsWith("it is quiet for ", pair.First.Why, StringComparison.Ordinal);
            Assert.InRange(pair.First.Confidence, 0.02, 0.6);
        });
        AssertPlaced(division);
    }

    [Fact]
    public void Lengths_that_contradict_each_other_give_places_without_a_gap()
    {
        // 30 s more printed than there is: counted from the start and from the end the cuts lie elsewhere.
        GrooveModel side = new(102, -58);
        side.NeedleUp(2).Thump(0.25).Groove(4).Music(600).Groove(2).RunOut(18, 1.8).Thump(0.2).NeedleUp(2);
        SideDivision division = Divide(side, new DivisionGuide(3, [110, 210, 310]));

        Assert.Contains(division.Findings, finding => finding.Code == FindingCodes.DivisionUnsure);
        Assert.NotEmpty(division.OtherPlaces);
        Assert.All(division.OtherPlaces, place =>
        {
            Assert.Contains("the printed lengths point here; no gap is heard; track ", place.Why, StringComparison.Ordinal);
            Assert.Equal(place.StartFrame, place.EndFrame);
        });
        Assert.Contains(division.OtherPlaces, place => place.Why.Contains("and 1:50 is printed", StringComparison.Ordinal));
        AssertPlaced(division);
    }

    [Fact]
    public void A_track_more_than_the_sheet_lists_has_its_place_told()
    {
        GrooveModel side = new(103, -58);
        side.Groove(4).Music(150).Groove(3).Music(160).Groove(3).Music(170).Groove(10);
        SideDivision division = Divide(side, new DivisionGuide(9, []));

        Assert.Contains(division.Findings, finding => finding.Code == FindingCodes.TracksUnexpected);
        Assert.All(division.OtherPlaces, place => Assert.Null(place.InsteadOf));
        AssertPlaced(division);
    }

    [Theory]
    [InlineData(null)]
    [InlineData(3)]
    public void What_is_sure_has_no_other_places(int? count)
    {
        GrooveModel side = new(104, -58);
        side.Groove(4).Music(150).Groove(3).Music(160).Groove(3).Music(170).Groove(10);

        Assert.Empty(Divide(side, new DivisionGuide(count, [])).OtherPlaces);
    }

    [Fact]
    public void No_more_are_told_than_a_person_goes_through()
    {
        GrooveModel side = new(105, -58);
        side.Groove(4);
        for (int i = 0; i < 60; i++)
        {
            side.Music(21 + (i % 7)).Groove(1.2);
        }

        SideDivision division = Divide(side, new DivisionGuide(30, []));
        Assert.InRange(division.OtherPlaces.Length, 1, 24);
        AssertPlaced(division);
    }

    private static SideDivision Divide(GrooveModel side, DivisionGuide guide) => SideDivider.Divide(side.Envelope(), new DivisionSettings(), guide);

    private static double Seconds(long frame) => frame / 48_000.0;

    private static void AssertPlaced(SideDivision division)
    {
        ImmutableArray<OtherPlace> places = division.OtherPlaces;
        Assert.Equal(places.OrderBy(place => place.StartFrame), places);
        Assert.All(places, place =>
        {
            Assert.InRange(place.Confidence, 0, 1);
            Assert.InRange(place.EndFrame, division.Tracks[0].FirstFrame, place.StartFrame);
            Assert.InRange(place.StartFrame, place.EndFrame, division.Tracks[^1].EndFrame);
            Assert.DoesNotContain(division.Tracks, track => Math.Abs(track.FirstFrame - place.StartFrame) < 4800 && track.Number == place.InsteadOf);
        });
    }
}
