using Station.Audio.Meters.Skips;
using Xunit;

namespace Station.Audio.Tests.Meters;

/// <summary>Rhythms whose truth is by construction: beats of equal distance, or of distances drawn at random, with moments left out.</summary>
public sealed class BeatContinuityTests
{
    private const double SecondsPerValue = 0.01;
    private const int At = 2_000;

    [Theory]
    [InlineData(0)]
    [InlineData(200)]                           // a whole bar left out goes on in step as well
    public void A_beat_that_goes_on_is_told(int leftOut) => Assert.True(BeatContinuity.Of(Beats(leftOut), At, SecondsPerValue) > 0);

    [Theory]
    [InlineData(23)]
    [InlineData(180)]                           // a turn at 33⅓ rev/min: 1.8 s, 3.6 beats
    [InlineData(133)]                           // at 45 rev/min: 2.66 beats
    [InlineData(1_440)]
    public void A_beat_that_was_shifted_is_told(int leftOut) => Assert.True(BeatContinuity.Of(Beats(leftOut), At, SecondsPerValue) < -0.4);

    [Fact]
    public void Without_a_beat_little_is_told()
    {
        // Of a hundred courses drawn at random the middle one lies near 0: both likenesses are those of chance, the better of many shifts a little higher.
        double[] told = [.. Enumerable.Range(0, 100).Select(seed => BeatContinuity.Of(Chance(seed), At, SecondsPerValue)!.Value).Order()];
        Assert.InRange(told[50], -0.5, 0.05);
    }

    [Fact]
    public void Silence_tells_nothing() => Assert.Equal(0, BeatContinuity.Of(new byte[4_000], At, SecondsPerValue));

    [Theory]
    [InlineData(400)]
    [InlineData(3_700)]
    public void Too_little_on_one_side_tells_nothing(int at) => Assert.Null(BeatContinuity.Of(Beats(0), at, SecondsPerValue));

    // 120 beats a minute, the first of four accented, each with a little unevenness.
    private static byte[] Beats(int leftOut)
    {
        var random = new Random(5);
        byte[] rises = new byte[4_000];
        for (int beat = 0; beat < 120; beat++)
        {
            int place = (50 * beat) + random.Next(-1, 2);
            place = place < At ? place : place - leftOut;
            if (place >= 0 && place < rises.Length && (place >= At || 50 * beat < At + 2))
            {
                rises[place] = (byte)(beat % 4 == 0 ? 200 : beat % 2 == 0 ? 90 : 30);
            }
        }

        // What is left out was played behind the instant.
        for (int i = At; i < At + 3 && leftOut > 0; i++)
        {
            rises[i] = 0;
        }

        return rises;
    }

    private static byte[] Chance(int seed)
    {
        var random = new Random(seed);
        byte[] rises = new byte[4_000];
        for (int i = 0; i < 120; i++)
        {
            rises[random.Next(rises.Length)] = (byte)random.Next(30, 150);
        }

        return rises;
    }
}
