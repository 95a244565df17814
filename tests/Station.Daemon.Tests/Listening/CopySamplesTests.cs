using System.Buffers.Binary;
using Station.Audio.Reading;
using Station.Daemon.Listening;
using Station.Daemon.Records;
using Xunit;

namespace Station.Daemon.Tests.Listening;

public sealed class CopySamplesTests
{
    private const int Rate = 48_000;

    // Half the sum cancels what is opposite in both channels: the vertical movement (common practice, no source).
    [Theory]
    [InlineData("Sum", 0.25f)]
    [InlineData("Left", 0.75f)]
    [InlineData("Right", -0.25f)]
    public void A_mono_copy_is_made_from_what_was_chosen(string source, float expected)
    {
        var samples = new CopySamples(Format(WordFormat.Int16, 16), new CopyMaking(Enum.Parse<MonoSource>(source), 0));
        samples.Take([0.75f, -0.25f]);
        Assert.Equal(1, samples.Channels);
        Assert.Equal([expected], samples.Samples.ToArray());
        Assert.False(samples.AsCaptured);
        Assert.Equal((int)(expected * 8_388_608), Word24(samples.Words24()));
    }

    [Fact]
    public void A_gain_is_decibels_and_stays_within_full_scale()
    {
        var samples = new CopySamples(Format(WordFormat.Int24, 24), new CopyMaking(null, 20 * Math.Log10(2)));
        samples.Take([0.25f, 0.75f]);
        Assert.Equal(0.5f, samples.Samples[0], 1e-6f);
        Assert.Equal(8_388_607, Word24(samples.Words24()[3..]));
        Assert.Equal(32_767, BinaryPrimitives.ReadInt16LittleEndian(samples.Words16()[2..]));
    }

    // Lipshitz, Wannamaker, Vanderkooy 1992 (from memory): with triangular dither of two steps' width the error's mean does not depend on the signal and is zero, and
    // its power is a quarter of a step squared: 1/12 of rounding and 1/6 of the dither.
    [Theory]
    [InlineData(0)]
    [InlineData(0.25)]
    [InlineData(0.5)]
    [InlineData(-0.3)]
    public void Rounding_to_16_bits_leaves_an_error_that_does_not_depend_on_the_sound(double steps)
    {
        const int Count = 400_000;
        float[] constant = new float[Count];
        Array.Fill(constant, (float)(steps / 32_768));
        var samples = new CopySamples(Format(WordFormat.Int24, 24), CopyMaking.Untouched);
        samples.Take(constant);
        ReadOnlySpan<byte> words = samples.Words16();
        double sum = 0;
        double squares = 0;
        for (int i = 0; i < Count; i++)
        {
            double error = BinaryPrimitives.ReadInt16LittleEndian(words[(2 * i)..]) - steps;
            sum += error;
            squares += error * error;
        }

        Assert.Equal(0, sum / Count, 0.005);                // five standard errors of the mean: 5 · 0.5 / √400 000
        Assert.Equal(0.25, squares / Count, 0.005);
    }

    [Fact]
    public void The_same_samples_give_the_same_bytes_whatever_the_portions()
    {
        float[] sound = [.. Enumerable.Range(0, 1000).Select(i => MathF.Sin(i * 0.1f) / 3)];
        var whole = new CopySamples(Format(WordFormat.Int24, 24), CopyMaking.Untouched);
        whole.Take(sound);
        var parts = new CopySamples(Format(WordFormat.Int24, 24), CopyMaking.Untouched);
        List<byte> bytes = [];
        foreach (float[] part in (float[][])[sound[..200], sound[200..202], sound[202..]])
        {
            parts.Take(part);
            bytes.AddRange(parts.Words16());
            Assert.Equal(part.Length * 2, parts.Words16().Length);      // asked twice, drawn once
        }

        Assert.Equal(whole.Words16().ToArray(), bytes);
    }

    // EBU R 128 (confirmed): -1 dBTP at most.
    [Theory]
    [InlineData(-18.0, -23.0, -10.0, 5.0)]
    [InlineData(-18.0, -23.0, -3.0, 2.0)]         // the peaks allow no more
    [InlineData(-18.0, -12.5, 0.5, -5.5)]
    [InlineData(-18.0, null, -3.0, 0.0)]
    [InlineData(-18.0, -23.0, null, 0.0)]
    [InlineData(null, -23.0, -10.0, 0.0)]
    public void A_target_is_reached_as_far_as_true_peaks_allow(double? target, double? side, double? truePeak, double gain) =>
        Assert.Equal(gain, CopyMaking.GainFor(target, side, truePeak), 1e-9);

    private static CaptureFormat Format(WordFormat words, int bits) =>
        new() { Container = "wav", Words = words, BitsPerSample = bits, SampleRateHz = Rate, Channels = 2, Frames = 0 };

    private static int Word24(ReadOnlySpan<byte> word) => (word[0] | (word[1] << 8) | (word[2] << 16)) << 8 >> 8;
}
