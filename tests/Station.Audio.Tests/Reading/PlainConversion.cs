using System.Buffers.Binary;
using Station.Audio.Reading;

namespace Station.Audio.Tests.Reading;

/// <summary>The obvious slow conversion: each word as a whole number, divided by full scale in double, rounded once to float.</summary>
internal static class PlainConversion
{
    public static float[] ToFloats(ReadOnlySpan<byte> words, WordFormat format, int fullScaleBits)
    {
        int width = format switch { WordFormat.Int16 => 2, WordFormat.Int24 => 3, WordFormat.Float64 => 8, _ => 4 };
        float[] samples = new float[words.Length / width];
        for (int i = 0; i < samples.Length; i++)
        {
            ReadOnlySpan<byte> word = words.Slice(i * width, width);
            samples[i] = format switch
            {
                WordFormat.Float32 => BinaryPrimitives.ReadSingleLittleEndian(word),
                WordFormat.Float64 => (float)BinaryPrimitives.ReadDoubleLittleEndian(word),
                _ => (float)(Whole(word) / Math.Pow(2, fullScaleBits - 1)),
            };
        }

        return samples;
    }

    private static long Whole(ReadOnlySpan<byte> word)
    {
        long value = 0;
        for (int i = 0; i < word.Length; i++)
        {
            value += (long)word[i] << (8 * i);
        }

        long half = 1L << ((8 * word.Length) - 1);
        return value >= half ? value - (2 * half) : value;
    }
}
