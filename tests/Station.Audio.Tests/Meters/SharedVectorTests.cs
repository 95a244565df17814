using System.Runtime.Intrinsics;
using Station.Audio.Meters;
using Station.Audio.Meters.Turns;
using Xunit;

namespace Station.Audio.Tests.Meters;

/// <summary>What is worked out in vectors, against its definition worked out plainly.</summary>
public sealed class SharedVectorTests
{
    [Theory]
    [InlineData(2)]
    [InlineData(8)]
    [InlineData(64)]
    [InlineData(512)]
    public void A_single_transform_is_the_definition(int length)
    {
        var random = new Random(length);
        double[] re = [.. Enumerable.Range(0, length).Select(_ => random.NextDouble() - 0.5)];
        double[] im = [.. Enumerable.Range(0, length).Select(_ => random.NextDouble() - 0.5)];
        var fft = new SingleFft(length);
        for (int round = 0; round < 2; round++)
        {
            for (int n = 0; n < length; n++)
            {
                fft.Real[n] = (float)re[n];
                fft.Imaginary[n] = (float)im[n];
            }

            fft.Run();
            for (int k = 0; k < length; k++)
            {
                (double a, double b) = Line(re, im, k);
                Assert.Equal(a, fft.Real[k], 1e-4);
                Assert.Equal(b, fft.Imaginary[k], 1e-4);
            }
        }
    }

    [Fact]
    public void Spectra_of_turns_are_the_definition()
    {
        const int Length = 64;
        var random = new Random(3);
        var spectrum = new TurnSpectrum(Length);
        double[][] lateral = new double[TurnSpectrum.Frames][];
        double[][] vertical = new double[TurnSpectrum.Frames][];
        double[] none = new double[Length];
        for (int frame = 0; frame < TurnSpectrum.Frames; frame++)
        {
            float[] l = [.. none.Select(_ => random.NextSingle() - 0.5f)];
            float[] v = [.. none.Select(_ => random.NextSingle() - 0.5f)];
            spectrum.Fill(frame, l, v);
            lateral[frame] = Windowed(l);
            vertical[frame] = Windowed(v);
        }

        spectrum.Run();
        for (int k = 1; k < Length / 2; k++)
        {
            (Vector256<float> lateralPower, Vector256<float> verticalPower) = spectrum.Powers(k);
            (Vector256<double> real, Vector256<double> imaginary) = spectrum.Products(k);
            for (int frame = 0; frame < TurnSpectrum.Frames; frame++)
            {
                Assert.Equal(Power(Line(lateral[frame], none, k)), lateralPower[frame], 1e-4);
                Assert.Equal(Power(Line(vertical[frame], none, k)), verticalPower[frame], 1e-4);
            }

            // Real and imaginary part of X·Y*, of both motions together, whatever their common factor.
            for (int frame = 0; frame < TurnSpectrum.Frames / 2; frame++)
            {
                (double a, double b) = Product(Line(lateral[frame], none, k), Line(lateral[frame + 4], none, k));
                (double c, double d) = Product(Line(vertical[frame], none, k), Line(vertical[frame + 4], none, k));
                Assert.Equal(4 * (a + c), real[frame], 1e-3);
                Assert.Equal(4 * (b + d), imaginary[frame], 1e-3);
            }
        }
    }

    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    public void Sums_over_pieces_are_sums(int channels)
    {
        var random = new Random(channels);
        foreach (int frames in new[] { 882, 160, 61, 5, 0 })
        {
            float[] samples = [.. Enumerable.Range(0, frames * channels).Select(_ => random.NextSingle() - 0.5f)];
            var pieces = new StepPieces(channels);
            pieces.Take(samples);
            for (int channel = 0; channel < 2; channel++)
            {
                for (int piece = 0; piece < StepPieces.Fine; piece++)
                {
                    Assert.Equal(Sum(samples, channels, channel, frames * piece / 64, frames * (piece + 1) / 64), pieces.FinePiece(piece).Sums[channel], 1e-5);
                }

                for (int piece = 0; piece < StepPieces.Coarse; piece++)
                {
                    Assert.Equal(Sum(samples, channels, channel, frames * piece / 16, frames * (piece + 1) / 16), pieces.CoarsePiece(piece).Sums[channel], 1e-5);
                }
            }

            Assert.Equal(frames, Enumerable.Range(0, StepPieces.Fine).Sum(piece => pieces.FinePiece(piece).Frames));
            Assert.Equal(frames, Enumerable.Range(0, StepPieces.Coarse).Sum(piece => pieces.CoarsePiece(piece).Frames));
        }
    }

    // The difference equation of a second-order section, as any textbook has it, three times.
    [Fact]
    public void Squares_of_sections_are_those_of_the_difference_equations()
    {
        BiquadCoefficients[] sections = [SubsonicBand.HighPass(60, 5_500), .. SubsonicBand.FourthOrderLowPass(200, 5_500)];
        var random = new Random(9);
        float[] samples = [.. Enumerable.Range(0, 500).Select(_ => random.NextSingle() - 0.5f)];
        double[] wave = [.. samples.Select(sample => (double)sample)];
        foreach (BiquadCoefficients c in sections)
        {
            double[] filtered = new double[wave.Length];
            for (int n = 0; n < wave.Length; n++)
            {
                filtered[n] = (c.B0 * wave[n]) + (c.B1 * At(wave, n - 1)) + (c.B2 * At(wave, n - 2)) - (c.A1 * At(filtered, n - 1)) - (c.A2 * At(filtered, n - 2));
            }

            wave = filtered;
        }

        double expected = wave.Sum(y => y * y);
        var atOnce = new LaneSections(1, [sections]);
        var oneByOne = new LaneSections(1, sections, sections);
        Vector256<double> sums = atOnce.AddSquares(0, samples.AsSpan(200..), atOnce.AddSquares(0, samples.AsSpan(0, 200), Vector256<double>.Zero));
        double second = samples.Sum(sample => Math.Pow(oneByOne.Next(0, Vector256.Create(0, sample, 0, 0))[1], 2));
        Assert.Equal(expected, sums[0], 1e-10);
        Assert.Equal(expected, second, 1e-10);

        static double At(double[] values, int n) => n < 0 ? 0 : values[n];
    }

    private static double Sum(float[] samples, int channels, int channel, int from, int to) =>
        Enumerable.Range(from, to - from).Sum(frame => (double)samples[(frame * channels) + Math.Min(channel, channels - 1)]);

    private static double[] Windowed(float[] samples) =>
        [.. samples.Select((sample, i) => sample * (0.5 - (0.5 * Math.Cos(2 * Math.PI * i / samples.Length))))];

    private static double Power((double Re, double Im) line) => (line.Re * line.Re) + (line.Im * line.Im);

    private static (double Re, double Im) Product((double Re, double Im) x, (double Re, double Im) y) =>
        ((x.Re * y.Re) + (x.Im * y.Im), (x.Im * y.Re) - (x.Re * y.Im));

    // X[k] = Σ x[n]·exp(−2πi·k·n/N).
    private static (double Re, double Im) Line(double[] re, double[] im, int k)
    {
        double a = 0;
        double b = 0;
        for (int n = 0; n < re.Length; n++)
        {
            (double sin, double cos) = Math.SinCos(-2 * Math.PI * k * n / re.Length);
            a += (re[n] * cos) - (im[n] * sin);
            b += (re[n] * sin) + (im[n] * cos);
        }

        return (a, b);
    }
}
