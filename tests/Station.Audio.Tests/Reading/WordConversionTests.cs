using System.Buffers.Binary;
using System.Runtime.InteropServices;
using Station.Audio.Reading;
using Xunit;

namespace Station.Audio.Tests.Reading;

/// <summary>Against the plain conversion: whole number divided by full scale. Full scale 2^(bits−1) = 1.0 is this project's definition.</summary>
public sealed class WordConversionTests
{
    [Fact]
    public void Every_16_bit_word_is_exact()
    {
        byte[] words = new byte[65536 * 2];
        for (int i = 0; i < 65536; i++)
        {
            BinaryPrimitives.WriteUInt16LittleEndian(words.AsSpan(2 * i), (ushort)i);
        }

        Check(words, WordFormat.Int16, 16);
    }

    [Fact]
    public void Every_24_bit_word_is_exact()
    {
        byte[] words = new byte[(1 << 24) * 3];
        for (int i = 0; i < 1 << 24; i++)
        {
            words[3 * i] = (byte)i;
            words[(3 * i) + 1] = (byte)(i >> 8);
            words[(3 * i) + 2] = (byte)(i >> 16);
        }

        Check(words, WordFormat.Int24, 24);
    }

    [Theory]
    [InlineData(WordFormat.Int16, 2, 16)]
    [InlineData(WordFormat.Int24, 3, 24)]
    [InlineData(WordFormat.Int24In32, 4, 32)]
    [InlineData(WordFormat.Int32, 4, 32)]
    [InlineData(WordFormat.Float32, 4, 32)]
    [InlineData(WordFormat.Float64, 8, 64)]
    public void Any_count_of_words_gives_the_plain_result(WordFormat format, int width, int fullScaleBits)
    {
        for (int count = 0; count <= 70; count++)
        {
            Check(WaveBytes.Words(count, count * width), format, fullScaleBits);
        }
    }

    [Fact]
    public void Large_integers_round_to_the_nearest_float_and_the_ends_are_full_scale()
    {
        int[] values = [int.MinValue, int.MaxValue, 0x7FFF_FFBF, 0x7FFF_FFC0, 0x0100_0001, 0x0100_0003, -0x0100_0001, 1, -1, 0, 16_777_217, int.MaxValue];
        byte[] words = new byte[values.Length * 4];
        for (int i = 0; i < values.Length; i++)
        {
            BinaryPrimitives.WriteInt32LittleEndian(words.AsSpan(4 * i), values[i]);
        }

        float[] samples = Check(words, WordFormat.Int32, 32);
        Assert.Equal(-1f, samples[0]);
        Assert.Equal(1f, samples[1]); // 2^31 − 1 is no float; the nearest is 2^31
    }

    [Fact]
    public void Doubles_round_once_and_keep_infinities_and_nan()
    {
        double[] values = [double.NaN, double.PositiveInfinity, double.NegativeInfinity, 1e300, -1e300, 1e-320, 1e-42, 0.1, 1 + 1e-9, -0.0, 1, -1];
        byte[] words = new byte[values.Length * 8];
        for (int i = 0; i < values.Length; i++)
        {
            BinaryPrimitives.WriteDoubleLittleEndian(words.AsSpan(8 * i), values[i]);
        }

        Check(words, WordFormat.Float64, 64);
    }

    [Fact]
    public void Nothing_is_written_beyond_the_samples()
    {
        // Two fillers: whatever is left of either shows what was not written.
        foreach (float filler in new[] { 7f, -9f })
        {
            float[] samples = new float[40];
            samples.AsSpan().Fill(filler);
            WordConversion.ToFloats(WaveBytes.Words(1, 33 * 3), WordFormat.Int24, samples.AsSpan(0, 33));
            Assert.All(samples[..33], s => Assert.InRange(s, -1f, 1f));
            Assert.All(samples[33..], s => Assert.Equal(filler, s));
        }
    }

    private static float[] Check(byte[] words, WordFormat format, int fullScaleBits)
    {
        float[] expected = PlainConversion.ToFloats(words, format, fullScaleBits);
        float[] actual = new float[expected.Length];
        WordConversion.ToFloats(words, format, actual);

        // Bit for bit, so that NaN and the sign of zero count too.
        int same = MemoryMarshal.Cast<float, int>(expected.AsSpan()).CommonPrefixLength(MemoryMarshal.Cast<float, int>(actual.AsSpan()));
        if (same < expected.Length)
        {
            Assert.Fail(FormattableString.Invariant($"{format}, word {same}: expected {expected[same]:R}, found {actual[same]:R}"));
        }

        return actual;
    }
}
