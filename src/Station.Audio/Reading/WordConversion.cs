using System.Diagnostics;
using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Reading;

/// <summary>Words to float32. Every result is the nearest float32 to the exact quotient; up to 24 bits that is the quotient itself.</summary>
/// <remarks>The plain equivalent of each loop is its own tail. Little-endian machines only, which the vector loads assume.</remarks>
internal static class WordConversion
{
    private const float Scale16 = 1f / (1 << 15);
    private const float Scale32 = 1f / (1L << 31); // powers of two: multiplying by them is exact

    /// <summary>Converts whole samples. Full scale is that of the word, since valid bits are its upper ones.</summary>
    /// <param name="words">Little-endian words.</param>
    /// <param name="format">Their format.</param>
    /// <param name="samples">One for each word.</param>
    public static void ToFloats(ReadOnlySpan<byte> words, WordFormat format, Span<float> samples)
    {
        switch (format)
        {
            case WordFormat.Int16:
                FromInt16(MemoryMarshal.Cast<byte, short>(words), samples);
                break;
            case WordFormat.Int24:
                FromInt24(words, samples);
                break;
            case WordFormat.Int24In32 or WordFormat.Int32:
                FromInt32(MemoryMarshal.Cast<byte, int>(words), samples);
                break;
            case WordFormat.Float32:
                MemoryMarshal.Cast<byte, float>(words).CopyTo(samples);
                break;
            case WordFormat.Float64:
                FromFloat64(MemoryMarshal.Cast<byte, double>(words), samples);
                break;
            default:
                throw new UnreachableException();
        }
    }

    private static void FromInt16(ReadOnlySpan<short> words, Span<float> samples)
    {
        int i = 0;
        samples = samples[..words.Length];
        var factor = Vector256.Create(Scale16);
        for (; i <= words.Length - Vector256<short>.Count; i += Vector256<short>.Count)
        {
            (Vector256<int> low, Vector256<int> high) = Vector256.Widen(Vector256.Create(words[i..]));
            (Vector256.ConvertToSingle(low) * factor).CopyTo(samples[i..]);
            (Vector256.ConvertToSingle(high) * factor).CopyTo(samples[(i + Vector256<int>.Count)..]);
        }

        for (; i < words.Length; i++)
        {
            samples[i] = words[i] * Scale16;
        }
    }

    private static void FromInt24(ReadOnlySpan<byte> words, Span<float> samples)
    {
        int i = 0;
        int count = words.Length / 3;
        samples = samples[..count];

        // Four samples are twelve of the sixteen bytes loaded. Each goes to the upper three bytes of an int, so the sign comes for free;
        // index 255 gives the zero below them.
        var spread = Vector128.Create((byte)255, 0, 1, 2, 255, 3, 4, 5, 255, 6, 7, 8, 255, 9, 10, 11);
        var factor = Vector128.Create(Scale32);
        for (; (3 * i) + Vector128<byte>.Count <= words.Length; i += 4)
        {
            Vector128<int> ints = Vector128.Shuffle(Vector128.Create(words[(3 * i)..]), spread).AsInt32();
            (Vector128.ConvertToSingle(ints) * factor).CopyTo(samples[i..]);
        }

        for (; i < count; i++)
        {
            ReadOnlySpan<byte> w = words.Slice(3 * i, 3);
            samples[i] = (w[0] << 8 | w[1] << 16 | w[2] << 24) * Scale32;
        }
    }

    private static void FromInt32(ReadOnlySpan<int> words, Span<float> samples)
    {
        int i = 0;
        samples = samples[..words.Length];
        var factor = Vector256.Create(Scale32);
        for (; i <= words.Length - Vector256<int>.Count; i += Vector256<int>.Count)
        {
            (Vector256.ConvertToSingle(Vector256.Create(words[i..])) * factor).CopyTo(samples[i..]);
        }

        for (; i < words.Length; i++)
        {
            samples[i] = words[i] * Scale32;
        }
    }

    private static void FromFloat64(ReadOnlySpan<double> words, Span<float> samples)
    {
        int i = 0;
        samples = samples[..words.Length];
        for (; i <= words.Length - Vector256<float>.Count; i += Vector256<float>.Count)
        {
            var low = Vector256.Create(words[i..]);
            var high = Vector256.Create(words[(i + Vector256<double>.Count)..]);
            Vector256.Narrow(low, high).CopyTo(samples[i..]);
        }

        for (; i < words.Length; i++)
        {
            samples[i] = (float)words[i];
        }
    }
}
