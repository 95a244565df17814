using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters.Turns;

/// <summary>Inner products.</summary>
internal static class TurnDot
{
    /// <summary>Sum of products of two stretches of the same length.</summary>
    public static float Of(ReadOnlySpan<float> a, ReadOnlySpan<float> b)
    {
        ReadOnlySpan<Vector256<float>> x = MemoryMarshal.Cast<float, Vector256<float>>(a);
        ReadOnlySpan<Vector256<float>> y = MemoryMarshal.Cast<float, Vector256<float>>(b);
        Vector256<float> s0 = Vector256<float>.Zero, s1 = s0, s2 = s0, s3 = s0;
        int i = 0;
        for (; i + 3 < x.Length && i + 3 < y.Length; i += 4)
        {
            s0 += x[i] * y[i];
            s1 += x[i + 1] * y[i + 1];
            s2 += x[i + 2] * y[i + 2];
            s3 += x[i + 3] * y[i + 3];
        }

        for (; i < x.Length && i < y.Length; i++)
        {
            s0 += x[i] * y[i];
        }

        float sum = Vector256.Sum(s0 + s1 + (s2 + s3));
        for (int k = i * Vector256<float>.Count; k < a.Length && k < b.Length; k++)
        {
            sum += a[k] * b[k];
        }

        return sum;
    }
}
