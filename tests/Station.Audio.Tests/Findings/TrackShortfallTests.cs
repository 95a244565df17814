using Station.Audio.Findings;
using Xunit;

namespace Station.Audio.Tests.Findings;

/// <remarks>Scatter and shortfall are computed by hand beside each case.</remarks>
public sealed class TrackShortfallTests
{
    [Theory]
    [InlineData(1, 200, 180, 194.6, 170)]       // 5.4 s short, the others exact: scatter 0.7
    [InlineData(1, 210, 189, 204.6, 178.5)]     // all at 1.05 but that one: the factor goes out
    [InlineData(0, 200, 180, 199, 170)]         // 1 s: less than a turn; too much to be complete
    [InlineData(-0.5, 200, 180, 200.3, 170)]    // complete
    [InlineData(0, 195, 186, 194.6, 170)]       // the others are off by 5 and 6 s: scatter beyond what is missing
    public void Judges_by_the_other_tracks(double says, double first, double second, double third, double fourth) =>
        Assert.Equal(says, TrackShortfall.Says([first, second, third, fourth], [200, 180, 200, 170], 2), 0.01);

    [Theory]
    [InlineData(1, 60.2, 54.6)]                 // 5.4 s
    [InlineData(0.29, 60.2, 58.2)]              // 1.8 s: 2.57 times the scatter of 0.7, (2.57 − 2) / 2
    [InlineData(-0.5, 60.4, 60.1)]
    [InlineData(0, 57, 56.5)]                   // the other one is off by 3 s as well: played fast
    public void With_one_other_track_nothing_tells_the_speed(double says, double other, double heard) =>
        Assert.Equal(says, TrackShortfall.Says([other, heard], [60, 60], 1), 0.01);
}
