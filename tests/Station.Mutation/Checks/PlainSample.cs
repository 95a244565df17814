using System.Buffers.Binary;
using Station.Audio.Reading;

namespace Station.Mutation.Checks;

/// <summary>One word as a sample, by the definition: a signed integer over its full scale, or the float itself.</summary>
internal static class PlainSample
{
    /// <summary>The sample.</summary>
    /// <param name="word">One little-endian word.</param>
    /// <param name="format">Its kind.</param>
    /// <param name="fullScaleBits">Integers: full scale is 2 to the power of this less one.</param>
    public static float Of(ReadOnlySpan<byte> word, WordFormat format, int fullScaleBits)
    {
        switch (format)
        {
            case WordFormat.Float32:
                return BinaryPrimitives.ReadSingleLittleEndian(word);
            case WordFormat.Float64:
                return (float)BinaryPrimitives.ReadDoubleLittleEndian(word);
            default:
                long value = (sbyte)word[^1];
                for (int i = word.Length - 2; i >= 0; i--)
                {
                    value = (value << 8) | word[i];
                }

                return (float)(value / Math.Pow(2, fullScaleBits - 1));
        }
    }
}
