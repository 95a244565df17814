using System.Buffers.Binary;

namespace Station.Mutation.Seeds;

/// <summary>Seeded sound in every kind of word: a decaying wave with noise, so that no depth looks padded and no lossless coder gives up.</summary>
/// <param name="divisor">1 for files that a campaign breaks; more for shorter ones, which a fuzzer gets through faster.</param>
internal sealed class SoundWords(int divisor)
{
    /// <summary>Signed integers.</summary>
    /// <param name="samples">All channels together.</param>
    /// <param name="width">Bytes of a word, 2 to 4.</param>
    /// <param name="validBits">Upper bits in use.</param>
    public byte[] Integers(int seed, int samples, int width, int validBits, bool bigEndian = false)
    {
        var random = new Random(seed);
        samples = Shortened(samples);
        byte[] words = new byte[samples * width];
        Span<byte> four = stackalloc byte[4];
        for (int i = 0; i < samples; i++)
        {
            int value = (int)(Level(random, i) * int.MaxValue) & (int)(~0L << (32 - validBits));
            Span<byte> word = words.AsSpan(i * width, width);
            if (bigEndian)
            {
                BinaryPrimitives.WriteInt32BigEndian(four, value);
                four[..width].CopyTo(word);
            }
            else
            {
                BinaryPrimitives.WriteInt32LittleEndian(four, value);
                four[(4 - width)..].CopyTo(word);
            }
        }

        return words;
    }

    /// <summary>IEEE 754 numbers.</summary>
    /// <param name="width">4 or 8.</param>
    public byte[] Floats(int seed, int samples, int width, bool bigEndian = false)
    {
        var random = new Random(seed);
        samples = Shortened(samples);
        byte[] words = new byte[samples * width];
        for (int i = 0; i < samples; i++)
        {
            Span<byte> word = words.AsSpan(i * width, width);
            double level = Level(random, i);
            if (width == 4)
            {
                BinaryPrimitives.WriteSingleLittleEndian(word, (float)level);
            }
            else
            {
                BinaryPrimitives.WriteDoubleLittleEndian(word, level);
            }

            if (bigEndian)
            {
                word.Reverse();
            }
        }

        return words;
    }

    /// <summary>Zeros.</summary>
    /// <param name="bytes">A multiple of 4.</param>
    public byte[] Silence(int bytes) => new byte[bytes / divisor / 4 * 4];

    /// <summary>Odd counts stay odd and even ones even: what is padded stays padded, what is stereo stays whole.</summary>
    private int Shortened(int samples) => divisor == 1 ? samples : (samples / divisor / 2 * 2) + (samples % 2);

    private static double Level(Random random, int index) =>
        (0.6 * Math.Sin(index * 0.05)) + (0.2 * ((random.NextDouble() * 2) - 1));
}
