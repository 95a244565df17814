using Station.Audio.Meters;
using Xunit;

namespace Station.Audio.Tests.Meters;

/// <remarks>Sums of steady tones, of which the continuation is known.</remarks>
public sealed class PhaseContinuityTests
{
    private const int RateHz = 8_000;
    private static readonly PhaseShape Shape = new(Order: 116, Side: 800, Gap: 80, LongWindow: 96, ShortWindow: 56, InstantsApart: 20);

    [Theory]
    [InlineData(0)]
    [InlineData(64)]                                        // whole periods of all tones: nothing breaks off
    public void Notes_that_go_on_say_so(int missing) => Assert.True(Break(missing, [250, 500, 1_125, 1_750]) < -3);

    [Theory]
    [InlineData(16)]                                        // half a period of the lowest, and odd shares of the others
    [InlineData(149)]
    [InlineData(1_003)]
    public void Notes_that_break_off_are_told(int missing) => Assert.True(Break(missing, [250, 337, 811, 1_423]) > 3);

    [Fact]
    public void Silence_and_noise_say_nothing()
    {
        Assert.Equal(0, Break(100, []));
        Random random = new(1);
        PhaseContinuity phases = new(RateHz, Shape, 2_500);
        for (int i = 0; i < 20; i++)
        {
            Fill(phases.Before, _ => random.NextDouble() - 0.5);
            Fill(phases.Behind, _ => random.NextDouble() - 0.5);
            Assert.InRange(phases.Break(), -3, 3);
        }
    }

    private static double Break(int missing, double[] tonesHz)
    {
        PhaseContinuity phases = new(RateHz, Shape, 2_500);
        Fill(phases.Before, i => At(i));
        Fill(phases.Behind, i => At(Shape.Side + Shape.Gap + missing + i));
        return phases.Break();

        double At(int sample) => tonesHz.Sum(hz => 0.1 * Math.Sin(2 * Math.PI * hz * sample / RateHz));
    }

    private static void Fill(Span<double> samples, Func<int, double> at)
    {
        for (int i = 0; i < samples.Length; i++)
        {
            samples[i] = at(i);
        }
    }
}
