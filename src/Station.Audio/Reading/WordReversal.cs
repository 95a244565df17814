using System.Buffers.Binary;
using System.Diagnostics;
using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Reading;

/// <summary>Reverses the bytes of each word in place: big-endian words become the little-endian ones everything behind the reader expects, and back.</summary>
internal static class WordReversal
{
    /// <param name="words">Whole words.</param>
    /// <param name="wordBytes">2, 3, 4 or 8.</param>
    public static void Reverse(Span<byte> words, int wordBytes)
    {
        switch (wordBytes)
        {
            case 2:
                Span<ushort> pairs = MemoryMarshal.Cast<byte, ushort>(words);
                BinaryPrimitives.ReverseEndianness(pairs, pairs);
                break;
            case 3:
                ReverseThrees(words);
                break;
            case 4:
                Span<uint> quads = MemoryMarshal.Cast<byte, uint>(words);
                BinaryPrimitives.ReverseEndianness(quads, quads);
                break;
            case 8:
                Span<ulong> octets = MemoryMarshal.Cast<byte, ulong>(words);
                BinaryPrimitives.ReverseEndianness(octets, octets);
                break;
            default:
                throw new UnreachableException();
        }
    }

    private static void ReverseThrees(Span<byte> words)
    {
        // Five words are fifteen of the sixteen bytes loaded; the sixteenth goes back as it was.
        const int Step = 15;
        int i = 0;
        var order = Vector128.Create((byte)2, 1, 0, 5, 4, 3, 8, 7, 6, 11, 10, 9, 14, 13, 12, 15);
        for (; i + Vector128<byte>.Count <= words.Length; i += Step)
        {
            Span<byte> part = words.Slice(i, Vector128<byte>.Count);
            Vector128.Shuffle(Vector128.Create(part), order).CopyTo(part);
        }

        for (; i < words.Length; i += 3)
        {
            (words[i], words[i + 2]) = (words[i + 2], words[i]);
        }
    }
}
