using System.Numerics;
using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>The value at one place of the sorted order, found without sorting.</summary>
internal static class RankSelection
{
    private const int Lanes = 8;

    // Magnitudes have no sign: their order is that of these bits.
    private const int HighestBit = 1 << 30;

    /// <summary>One value of those given; plainly: sorted ascending, the one at <paramref name="rank"/>.</summary>
    /// <remarks>The answer's bits are settled from the highest down, by how many values lie below: the same work whatever the values, and no branch on them.</remarks>
    /// <param name="magnitudes">0 and up, at least one, no −0 and nothing that is no number.</param>
    /// <param name="rank">0 for the least.</param>
    public static float OfMagnitudes(ReadOnlySpan<float> magnitudes, int rank)
    {
        int whole = (magnitudes.Length + Lanes - 1) / Lanes;
        Span<Vector256<int>> bits = stackalloc Vector256<int>[whole];
        Span<int> each = MemoryMarshal.Cast<Vector256<int>, int>(bits);
        MemoryMarshal.Cast<float, int>(magnitudes).CopyTo(each);
        each[magnitudes.Length..].Fill(int.MaxValue);
        int found = 0;
        for (int bit = HighestBit; bit > 0; bit >>= 1)
        {
            Vector256<int> tried = Vector256.Create(found | bit);
            int below = 0;
            foreach (Vector256<int> values in bits)
            {
                below += BitOperations.PopCount(Vector256.LessThan(values, tried).ExtractMostSignificantBits());
            }

            found |= below <= rank ? bit : 0;
        }

        return BitConverter.Int32BitsToSingle(found);
    }

    /// <summary>One value of those given; plainly: sorted ascending, the one at <paramref name="rank"/>.</summary>
    /// <param name="values">At least one.</param>
    /// <param name="rank">0 for the least.</param>
    public static byte Of(ReadOnlySpan<byte> values, int rank)
    {
        int whole = (values.Length + Vector256<byte>.Count - 1) / Vector256<byte>.Count;
        Span<Vector256<byte>> vectors = stackalloc Vector256<byte>[whole];
        Span<byte> each = MemoryMarshal.Cast<Vector256<byte>, byte>(vectors);
        values.CopyTo(each);
        each[values.Length..].Fill(byte.MaxValue);
        int found = 0;
        for (int bit = 0x80; bit > 0; bit >>= 1)
        {
            Vector256<byte> tried = Vector256.Create((byte)(found | bit));
            int below = 0;
            foreach (Vector256<byte> vector in vectors)
            {
                below += BitOperations.PopCount(Vector256.LessThan(vector, tried).ExtractMostSignificantBits());
            }

            found |= below <= rank ? bit : 0;
        }

        return (byte)found;
    }

    /// <summary>In each lane the third smallest of six values.</summary>
    /// <remarks>
    /// The smaller three of two sorted threes are found by exchanging crosswise; the greatest of them is the answer (D. E. Knuth, The Art of Computer Programming 3, 5.3.4:
    /// the first step of merging bitonically; from memory).
    /// </remarks>
    public static Vector128<float> ThirdOfSix(ReadOnlySpan<Vector128<float>> six)
    {
        (Vector128<float> a, Vector128<float> b, Vector128<float> c) = Sorted(six[0], six[1], six[2]);
        (Vector128<float> d, Vector128<float> e, Vector128<float> f) = Sorted(six[3], six[4], six[5]);
        return Vector128.Max(Vector128.Max(Vector128.Min(a, f), Vector128.Min(b, e)), Vector128.Min(c, d));
    }

    private static (Vector128<float> Least, Vector128<float> Middle, Vector128<float> Most) Sorted(Vector128<float> a, Vector128<float> b, Vector128<float> c)
    {
        (a, b) = (Vector128.Min(a, b), Vector128.Max(a, b));
        (b, c) = (Vector128.Min(b, c), Vector128.Max(b, c));
        return (Vector128.Min(a, b), Vector128.Max(a, b), c);
    }
}
