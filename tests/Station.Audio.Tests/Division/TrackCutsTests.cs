using Station.Audio.Division;
using Station.Audio.Meters;
using Xunit;

namespace Station.Audio.Tests.Division;

/// <remarks>Frames are counted by hand from the settings: a pad of 60 ms is 2880 frames at 48 kHz, 2646 at 44.1 kHz; a step of 20 ms is 960 and 882.</remarks>
public sealed class TrackCutsTests
{
    [Theory]
    [InlineData(48_000, 0.06, 0.1, 500, 600, 480_000 + 4800, 576_000 - 2880)]
    [InlineData(44_100, 0.06, 0.1, 500, 600, 441_000 + 4410, 529_200 - 2646)]
    [InlineData(48_000, 0, 0, 500, 600, 480_000, 576_000)]
    [InlineData(48_000, 0.4, 0.6, 500, 600, 480_000 + 28_800, 576_000 - 19_200)]
    public void Tracks_reach_into_a_gap_by_their_pads(int rate, double before, double after, int first, int end, long ends, long starts) =>
        Assert.Equal((ends, starts), Cuts(rate, before, after).Between(new Boundary(first, end, Heard: true, 1)));

    [Theory]
    [InlineData(2, 2, 500, 550, 504_000)]
    [InlineData(0.5, 1.5, 500, 550, 516_000)]
    [InlineData(2, 0, 500, 550, 480_000)]
    [InlineData(0, 2, 500, 550, 528_000)]
    [InlineData(0.06, 0.1, 500, 501, 480_600)]
    public void A_gap_shorter_than_both_pads_is_shared_and_the_tracks_meet(double before, double after, int first, int end, long meet) =>
        Assert.Equal((meet, meet), Cuts(48_000, before, after).Between(new Boundary(first, end, Heard: true, 1)));

    [Theory]
    [InlineData(0, 0)]
    [InlineData(0.06, 0.1)]
    [InlineData(2, 2)]
    public void Without_a_gap_the_frame_after_one_track_is_the_first_of_the_next(double before, double after) =>
        Assert.Equal((480_000L, 480_000L), Cuts(48_000, before, after).Between(new Boundary(500, 500, Heard: false, 0.4)));

    [Fact]
    public void Pads_end_with_the_file()
    {
        TrackCuts cuts = Cuts(48_000, 2, 2);
        var map = new MusicMap(20, 990, [], []);
        Assert.Equal((0L, 960_000L - 7), (cuts.First(map), cuts.Last(map)));
        Assert.Equal((144_000L, 768_000L), (cuts.First(new MusicMap(250, 700, [], [])), cuts.Last(new MusicMap(250, 700, [], []))));
    }

    // Twenty seconds less seven frames: the last step is a shorter one.
    private static TrackCuts Cuts(int rate, double before, double after)
    {
        float[] nothing = new float[1000];
        return new TrackCuts(
            LevelEnvelope.FromSeries(rate, rate / 50, (rate * 20L) - 7, (nothing, nothing, nothing)), new DivisionSettings { PadBeforeSeconds = before, PadAfterSeconds = after });
    }
}
