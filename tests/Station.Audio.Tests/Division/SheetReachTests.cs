using System.Collections.Immutable;
using Station.Audio.Division;
using Xunit;

namespace Station.Audio.Tests.Division;

/// <remarks>Steps are 20 ms. Three tracks heard: 10 to 110 s, 115 to 165 s, 170 to 250 s, of a capture of 280 s.</remarks>
public sealed class SheetReachTests
{
    private const int Steps = 280 * 50;

    private static readonly MusicMap Map = new(500, 12_500, [], []);

    private static readonly ImmutableArray<Boundary> Boundaries = [new(5500, 5750, Heard: true, 0.99), new(8250, 8500, Heard: true, 0.99)];

    // Half a second of what is missing is left: lengths are rounded.
    [Fact]
    public void A_start_that_creeps_in_is_moved_back_by_what_the_print_has_more()
    {
        (MusicMap map, ImmutableArray<Boundary> moved) = Widen([100, 54, 80], unsure: 5750);
        Assert.Equal((5500, 5750 - 175), (moved[0].FirstStep, moved[0].EndStep));
        Assert.Equal((Boundaries[1], 500, 12_500), (moved[1], map.FirstStep, map.EndStep));
    }

    [Fact]
    public void An_end_that_dies_away_is_moved_on()
    {
        (_, ImmutableArray<Boundary> moved) = Widen([103, 50, 80], unsure: 5500);
        Assert.Equal((5500 + 125, 5750), (moved[0].FirstStep, moved[0].EndStep));
    }

    [Theory]
    [InlineData(500, 103, 80, 500 - 125, 12_500)]
    [InlineData(12_500, 100, 90, 500, 12_500 + 475)]
    public void The_sides_own_ends_are_moved_too(int unsure, double first, double last, int start, int end)
    {
        (MusicMap map, _) = Widen([first, 50, last], unsure);
        Assert.Equal((start, end), (map.FirstStep, map.EndStep));
    }

    [Fact]
    public void Edges_that_are_sure_stay() => AssertSame(Widen([100, 54, 80], unsure: 0));

    [Theory]
    [InlineData(100, 51.4, 80)]
    [InlineData(100, 48, 80)]
    public void What_the_print_may_be_off_by_moves_nothing(double first, double second, double third) => AssertSame(Widen([first, second, third], unsure: 5750));

    [Theory]
    [InlineData(100, 58, 80)]
    [InlineData(100, 130, 80)]
    public void More_than_the_gap_holds_is_a_misprint(double first, double second, double third) => AssertSame(Widen([first, second, third], unsure: 5750));

    [Fact]
    public void A_sheet_that_counts_the_gaps_in_says_nothing_of_an_edge_in_a_gap() => AssertSame(Widen([105, 55, 80], unsure: 5500));

    [Fact]
    public void Of_the_last_track_it_does()
    {
        (_, ImmutableArray<Boundary> moved) = Widen([105, 55, 83], unsure: 8500);
        Assert.Equal(8500 - 125, moved[1].EndStep);
    }

    [Fact]
    public void Lengths_that_do_not_fit_the_other_tracks_either_are_not_trusted() => AssertSame(Widen([112, 54, 93], unsure: 5750));

    [Fact]
    public void One_length_alone_is_not_trusted() => AssertSame(Widen([null, 54, null], unsure: 5750));

    [Fact]
    public void Lengths_count_at_the_speed_the_turntable_had()
    {
        // Two per cent fast: what is printed was over so much earlier.
        (_, ImmutableArray<Boundary> moved) = SheetReach.Widen(Map, Boundaries, [102, 55.08, 81.6], 1.02, Steps, (step, _) => step == 5750 ? 0.4 : 1);
        Assert.Equal(5750 - 175, moved[0].EndStep);
    }

    private static (MusicMap Map, ImmutableArray<Boundary> Boundaries) Widen(ImmutableArray<double?> lengths, int unsure) =>
        SheetReach.Widen(Map, Boundaries, lengths, 1, Steps, (step, _) => step == unsure ? 0.4 : 1);

    private static void AssertSame((MusicMap Map, ImmutableArray<Boundary> Boundaries) widened)
    {
        Assert.Equal(Map, widened.Map);
        Assert.Equal(Boundaries, widened.Boundaries.AsEnumerable());
    }
}
