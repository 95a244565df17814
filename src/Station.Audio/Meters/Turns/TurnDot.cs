using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters.Turns;

/// <summary>Inner products.</summary>
internal static class TurnDot
{
    /// <summary>Sum of products of two stretches of the same length.</summary>
    /// <exception cref="ArgumentException">They differ in length.</exception>
    public static float Of(ReadOnlySpan<float> a, ReadOnlySpan<float> b)
    {
        if (a.Length != b.Length)
        {
            throw new ArgumentException("The stretches differ in length.", nameof(b));
        }

        ref float x = ref MemoryMarshal.GetReference(a);
        ref float y = ref MemoryMarshal.GetReference(b);
        nuint length = (nuint)a.Length;
        Vector256<float> s0 = Vector256<float>.Zero, s1 = s0, s2 = s0, s3 = s0;
        nuint i = 0;
        for (; i + 32 <= length; i += 32)
        {
            s0 += Vector256.LoadUnsafe(ref x, i) * Vector256.LoadUnsafe(ref y, i);
            s1 += Vector256.LoadUnsafe(ref x, i + 8) * Vector256.LoadUnsafe(ref y, i + 8);
            s2 += Vector256.LoadUnsafe(ref x, i + 16) * Vector256.LoadUnsafe(ref y, i + 16);
            s3 += Vector256.LoadUnsafe(ref x, i + 24) * Vector256.LoadUnsafe(ref y, i + 24);
        }

        for (; i + 8 <= length; i += 8)
        {
            s0 += Vector256.LoadUnsafe(ref x, i) * Vector256.LoadUnsafe(ref y, i);
        }

        float sum = Vector256.Sum(s0 + s1 + (s2 + s3));
        for (int k = (int)i; k < a.Length; k++)
        {
            sum += a[k] * b[k];
        }

        return sum;
    }
}
