using System.Runtime.Intrinsics;
using Station.Audio.Meters;
using Xunit;

namespace Station.Audio.Tests.Meters;

public sealed class NoiseFormulaTests
{
    // IEC 61672-1, table of A-weighting, one decimal, at the exact base-ten frequencies that stand behind the nominal ones (from memory).
    [Theory]
    [InlineData(31.6228, -39.4)]
    [InlineData(63.0957, -26.2)]
    [InlineData(100, -19.1)]
    [InlineData(125.8925, -16.1)]
    [InlineData(251.1886, -8.6)]
    [InlineData(501.1872, -3.2)]
    [InlineData(1000, 0)]
    [InlineData(1995.262, 1.2)]
    [InlineData(3981.072, 1.0)]
    [InlineData(7943.282, -1.1)]
    [InlineData(10_000, -2.5)]
    [InlineData(15_848.93, -6.6)]
    public void A_weighting_is_the_standards(double hz, double db) => Assert.Equal(db, AWeighting.GainDb(hz), 0.06);

    // Computed from 3180, 318 and 75 µs with numpy, tolerance 0.001 dB, which the rounding of four decimals and of the corners fits in.
    [Theory]
    [InlineData(20, 19.2741)]
    [InlineData(50, 16.9457)]
    [InlineData(100, 13.0885)]
    [InlineData(500, 2.6476)]
    [InlineData(1000, 0)]
    [InlineData(2000, -2.5885)]
    [InlineData(5000, -8.2096)]
    [InlineData(10_000, -13.7343)]
    [InlineData(20_000, -19.6203)]
    public void The_replay_curve_is_the_published_one(double hz, double db) => Assert.Equal(db, ReplayCurveLevel.GainDb(hz), 0.001);

    [Fact]
    public void The_transform_is_the_definition_in_every_lane()
    {
        const int Length = 64;
        var random = new Random(5);
        var fft = new LaneFft(Length);
        double[,] re = new double[LaneFft.Lanes, Length];
        double[,] im = new double[LaneFft.Lanes, Length];
        for (int n = 0; n < Length; n++)
        {
            for (int lane = 0; lane < LaneFft.Lanes; lane++)
            {
                re[lane, n] = random.NextDouble() - 0.5;
                im[lane, n] = random.NextDouble() - 0.5;
                fft.Real[n] = fft.Real[n].WithElement(lane, (float)re[lane, n]);
                fft.Imaginary[n] = fft.Imaginary[n].WithElement(lane, (float)im[lane, n]);
            }
        }

        fft.Run();
        for (int lane = 0; lane < LaneFft.Lanes; lane++)
        {
            for (int k = 1; k < Length / 2; k++)
            {
                // The definition, X[k] = Σ x[n]·exp(−2πi·k·n/N), of each channel by itself.
                double left = Power(lane, k, re);
                double right = Power(lane, k, im);
                (Vector256<float> l, Vector256<float> r) = fft.Powers(k);
                Assert.Equal(left, l.GetElement(lane), 1e-4);
                Assert.Equal(right, r.GetElement(lane), 1e-4);
            }
        }

        static double Power(int lane, int k, double[,] x)
        {
            double a = 0;
            double b = 0;
            for (int n = 0; n < Length; n++)
            {
                (double sin, double cos) = Math.SinCos(-2 * Math.PI * k * n / Length);
                a += x[lane, n] * cos;
                b += x[lane, n] * sin;
            }

            return (a * a) + (b * b);
        }
    }
}
