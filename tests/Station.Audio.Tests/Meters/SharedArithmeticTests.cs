using Station.Audio.Meters;
using Xunit;

namespace Station.Audio.Tests.Meters;

/// <summary>The arithmetic several meters share, against closed forms. Sources: arithmetic, named at each check.</summary>
public sealed class SharedArithmeticTests
{
    [Theory]
    [InlineData(0)]
    [InlineData(1)]
    [InlineData(7)]
    [InlineData(32)]
    [InlineData(101)]
    public void An_inner_product_is_the_sum_of_products(int length)
    {
        var random = new Random(length);
        double[] a = [.. Enumerable.Range(0, length).Select(_ => random.NextDouble() - 0.5)];
        double[] b = [.. Enumerable.Range(0, length).Select(_ => random.NextDouble() - 0.5)];
        double plainly = a.Zip(b, (x, y) => x * y).Sum();

        Assert.Equal(plainly, InnerProduct.Of(a.AsSpan(), b.AsSpan()), 1e-12);
        Assert.Equal(plainly, InnerProduct.Of([.. a.Select(x => (float)x)], [.. b.Select(x => (float)x)]), 1e-5);
        Assert.Throws<ArgumentException>(() => InnerProduct.Of(new double[length], new double[length + 1]));
    }

    // A process x[n] = 0.8·x[n − 1] + noise has the autocorrelation 0.8^k: one coefficient predicts all there is to predict.
    [Fact]
    public void A_process_of_first_order_needs_one_coefficient()
    {
        double[] coefficients = new double[5];
        LevinsonRecursion.Fit([1, 0.8, 0.64, 0.512, 0.4096], coefficients);
        double[] expected = [1, -0.8, 0, 0, 0];
        for (int i = 0; i < expected.Length; i++)
        {
            Assert.Equal(expected[i], coefficients[i], 1e-12);
        }
    }

    // x[n] = 2·cos(w)·x[n − 1] − x[n − 2] for every sine: two coefficients leave nothing.
    [Theory]
    [InlineData(0.3)]
    [InlineData(1.1)]
    [InlineData(2.5)]
    public void A_sine_needs_two_coefficients(double radians)
    {
        double[] sine = [.. Enumerable.Range(0, 4000).Select(i => Math.Sin((radians * i) + 0.4))];
        var predictor = new BurgPredictor(2, sine.Length);
        double left = predictor.Fit(sine);

        Assert.Equal(-2 * Math.Cos(radians), predictor.Coefficients[1], 1e-3);
        Assert.Equal(1, predictor.Coefficients[2], 1e-3);
        Assert.InRange(left, 0, 1e-5);
    }

    [Fact]
    public void What_lies_in_a_hole_does_not_matter()
    {
        double[] sine = [.. Enumerable.Range(0, 2000).Select(i => Math.Sin(0.7 * i))];
        var predictor = new BurgPredictor(4, sine.Length);
        double clean = predictor.Fit(sine, 900, 950);
        double[] first = predictor.Coefficients.ToArray();
        for (int i = 900; i < 950; i++)
        {
            sine[i] = 1000;
        }

        Assert.Equal(clean, predictor.Fit(sine, 900, 950));
        Assert.Equal(first, predictor.Coefficients.ToArray());
    }

    // A windowed sinc passes half its amplitude at its cut-off; a Hamming window's side lobes keep what is stopped 53 dB down (from memory, with a margin here).
    [Theory]
    [InlineData(0.1)]
    [InlineData(0.25)]
    public void A_low_pass_passes_halves_and_stops(double cutoff)
    {
        double[] taps = WindowedSinc.LowPass(101, cutoff);
        Assert.Equal(1, Gain(taps, 0), 1e-12);
        Assert.Equal(1, Gain(taps, cutoff - 0.03), 0.01);
        Assert.Equal(0.5, Gain(taps, cutoff), 0.01);
        Assert.InRange(Gain(taps, cutoff + 0.03), 0, 0.004);

        double[] band = WindowedSinc.BandPass(101, cutoff, cutoff + 0.15);
        Assert.Equal(1, Gain(band, cutoff + 0.075), 0.01);
        Assert.InRange(Gain(band, 0), 0, 0.004);
    }

    private static double Gain(double[] taps, double partOfRate)
    {
        double real = 0;
        double imaginary = 0;
        for (int i = 0; i < taps.Length; i++)
        {
            real += taps[i] * Math.Cos(2 * Math.PI * partOfRate * i);
            imaginary += taps[i] * Math.Sin(2 * Math.PI * partOfRate * i);
        }

        return Math.Sqrt((real * real) + (imaginary * imaginary));
    }
}
