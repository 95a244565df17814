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

    // Half a second more than is lacking, for lengths are rounded.
    [Fact]
    public void A_start_that_creeps_in_is_moved_back_by_what_the_print_has_more()
    {
        (MusicMap map, ImmutableArray<Boundary> moved) = Widen([100, 54, 80], unsure: 5750);
        Assert.Equal((5500, 5750 - 225), (moved[0].FirstStep, moved[0].EndStep));
        Assert.Equal((Boundaries[1], 500, 12_500), (moved[1], map.FirstStep, map.EndStep));
    }

    [Fact]
    public void An_end_that_dies_away_is_moved_on()
    {
        (_, ImmutableArray<Boundary> moved) = Widen([103, 50, 80], unsure: 5500);
        Assert.Equal((5500 + 175, 5750), (moved[0].FirstStep, moved[0].EndStep));
    }

    [Theory]
    [InlineData(500, 103.0, 80.0, 500 - 175, 12_500)]
    [InlineData(12_500, 100.0, 90.0, 500, 12_500 + 525)]
    [InlineData(12_500, 100.0, 92.0, 500, 12_500)]
    public void The_sides_own_ends_are_moved_too_by_no_more_than_gaps_are_long(int unsure, double first, double last, int start, int end)
    {
        (MusicMap map, _) = Widen([first, 50, last], unsure);
        Assert.Equal((start, end), (map.FirstStep, map.EndStep));
    }

    [Theory]
    [InlineData(0.95, 4.4, false)]
    [InlineData(0.85, 4.4, true)]
    [InlineData(0.85, 3.0, false)]
    [InlineData(0.60, 3.0, true)]
    [InlineData(0.60, 1.4, false)]
    public void The_surer_an_edge_the_more_must_be_lacking(double sureness, double lacking, bool moves)
    {
        (_, ImmutableArray<Boundary> moved) = SheetReach.Widen(Map, Boundaries, [100, 50 + lacking, 80], 1, Steps, (step, _) => step == 5750 ? sureness : 1);
        Assert.Equal(moves, moved[0].EndStep < 5750);
    }

    [Theory]
    [InlineData(58.0)]
    [InlineData(130.0)]
    [InlineData(48.0)]
    public void More_than_the_gap_holds_is_a_misprint_and_less_than_was_heard_shortens_nothing(double second) => AssertSame(Widen([100, second, 80], unsure: 5750));

    // Gaps of 5 s behind the first and the second track.
    [Fact]
    public void A_sheet_that_counts_the_gaps_in_says_nothing_of_an_end() => AssertSame(Widen([105, 55, 80], unsure: 5500));

    [Fact]
    public void It_does_of_a_start()
    {
        (_, ImmutableArray<Boundary> moved) = Widen([105, 58, 80], unsure: 5750);
        Assert.Equal(5750 - 175, moved[0].EndStep);
    }

    [Fact]
    public void It_does_of_the_last_track()
    {
        (_, ImmutableArray<Boundary> moved) = Widen([105, 55, 83], unsure: 8500);
        Assert.Equal(8500 - 175, moved[1].EndStep);
    }

    [Fact]
    public void A_track_that_lacks_a_minute_does_not_hide_what_another_lacks()
    {
        // The first track seems to end after 30 s; the last creeps in.
        (_, ImmutableArray<Boundary> moved) = SheetReach.Widen(
            Map, [new(2000, 5750, Heard: true, 0.99), Boundaries[1]], [100, 50, 84], 1, Steps, (step, _) => step is 2000 or 8500 ? 0.5 : 1);
        Assert.Equal((2000 + 3525, 5750), (moved[0].FirstStep, moved[0].EndStep));
        Assert.Equal((8250, 8500 - 225), (moved[1].FirstStep, moved[1].EndStep));
    }

    [Fact]
    public void Lengths_that_do_not_fit_the_other_tracks_either_are_not_trusted() => AssertSame(Widen([112, 54, 93], unsure: 5750));

    // Four tracks; the others are off by 0.5, 1 and 2.8 s: what is lacking must be more than a quarter beyond the worst of them.
    [Theory]
    [InlineData(3.0, false)]
    [InlineData(3.6, true)]
    public void A_print_that_is_off_elsewhere_must_be_off_by_more_here(double lacking, bool moves)
    {
        MusicMap map = Map with { EndStep = 13_000 };
        ImmutableArray<Boundary> boundaries = [.. Boundaries, new Boundary(12_500, 12_750, Heard: true, 0.99)];
        (_, ImmutableArray<Boundary> moved) = SheetReach.Widen(
            map, boundaries, [100.5, 50 + lacking, 81, 7.8], 1, Steps, (step, _) => step == 5750 ? 0.4 : 1);
        Assert.Equal(moves, moved[0].EndStep < 5750);
    }

    [Fact]
    public void One_length_alone_is_not_trusted() => AssertSame(Widen([null, 54, null], unsure: 5750));

    [Fact]
    public void Tracks_that_meet_are_not_widened_where_they_do()
    {
        ImmutableArray<Boundary> meet = [new(5625, 5625, Heard: false, 0.4), new(8250, 8500, Heard: true, 0.99)];
        Assert.Equal(meet, SheetReach.Widen(Map, meet, [102.5, 60, 80], 1, Steps, (step, _) => step == 5625 ? 0.3 : 1).Boundaries.AsEnumerable());
    }

    [Fact]
    public void Lengths_count_at_the_speed_the_turntable_had()
    {
        // Two per cent fast: what is printed was over so much earlier.
        (_, ImmutableArray<Boundary> moved) = SheetReach.Widen(Map, Boundaries, [102, 55.08, 81.6], 1.02, Steps, (step, _) => step == 5750 ? 0.4 : 1);
        Assert.Equal(5750 - 225, moved[0].EndStep);
    }

    private static (MusicMap Map, ImmutableArray<Boundary> Boundaries) Widen(ImmutableArray<double?> lengths, int unsure) =>
        SheetReach.Widen(Map, Boundaries, lengths, 1, Steps, (step, _) => step == unsure ? 0.4 : 1);

    private static void AssertSame((MusicMap Map, ImmutableArray<Boundary> Boundaries) widened)
    {
        Assert.Equal(Map, widened.Map);
        Assert.Equal(Boundaries, widened.Boundaries.AsEnumerable());
    }
}
