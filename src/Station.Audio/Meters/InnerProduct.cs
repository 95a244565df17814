using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>Inner products: plainly, the sum of a[i]·b[i].</summary>
/// <remarks>In a fixed order of additions and without fused multiply-add, so that a reading is the same on every machine; the library's own takes what the machine has.</remarks>
internal static class InnerProduct
{
    /// <summary>Sum of products of two stretches of the same length.</summary>
    /// <exception cref="ArgumentException">They differ in length.</exception>
    public static float Of(ReadOnlySpan<float> a, ReadOnlySpan<float> b)
    {
        RequireEqual(a.Length, b.Length);
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

    /// <summary>Sum of products of two stretches of the same length.</summary>
    /// <exception cref="ArgumentException">They differ in length.</exception>
    public static double Of(ReadOnlySpan<double> a, ReadOnlySpan<double> b)
    {
        RequireEqual(a.Length, b.Length);
        ReadOnlySpan<Vector256<double>> x = MemoryMarshal.Cast<double, Vector256<double>>(a);
        ReadOnlySpan<Vector256<double>> y = MemoryMarshal.Cast<double, Vector256<double>>(b);
        Vector256<double> products = Vector256<double>.Zero;
        for (int i = 0; i < x.Length; i++)
        {
            products += x[i] * y[i];
        }

        double sum = products[0] + products[1] + products[2] + products[3];
        for (int i = x.Length * Vector256<double>.Count; i < a.Length; i++)
        {
            sum += a[i] * b[i];
        }

        return sum;
    }

    private static void RequireEqual(int first, int second)
    {
        if (first != second)
        {
            throw new ArgumentException($"The stretches differ in length: {first} and {second}.");
        }
    }
}
