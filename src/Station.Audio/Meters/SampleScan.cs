using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;

namespace Station.Audio.Meters;

/// <summary>Vector passes over one step's samples that decide on bit patterns, where NaN, infinity and denormals cost nothing extra.</summary>
internal static class SampleScan
{
    /// <summary>Bits of +∞: magnitudes from here up are infinite or not a number.</summary>
    public const int InfinityBits = 0x7F80_0000;

    /// <summary>Bits of 1.0.</summary>
    public const int FullScaleBits = 0x3F80_0000;

    private const int MagnitudeMask = 0x7FFF_FFFF;

    // 2^-64, −385 dBFS: float samples below are taken for zero, which keeps denormals out of the arithmetic.
    private const int NegligibleBits = 0x1F80_0000;

    /// <summary>Bits of the largest magnitude of each channel: ordered as the magnitudes are, NaN above infinity.</summary>
    public static (int Left, int Right) MaxMagnitudeBits(ReadOnlySpan<float> samples, int channels)
    {
        ReadOnlySpan<int> bits = MemoryMarshal.Cast<float, int>(samples);
        Vector256<int> mask = Vector256.Create(MagnitudeMask);
        Vector256<int> max = Vector256<int>.Zero;
        ReadOnlySpan<Vector256<int>> vectors = MemoryMarshal.Cast<int, Vector256<int>>(bits);
        foreach (Vector256<int> vector in vectors)
        {
            max = Vector256.Max(max, vector & mask);
        }

        int left = Math.Max(Math.Max(max[0], max[2]), Math.Max(max[4], max[6]));
        int right = Math.Max(Math.Max(max[1], max[3]), Math.Max(max[5], max[7]));
        for (int i = vectors.Length * Vector256<int>.Count; i < bits.Length; i++)
        {
            int magnitude = bits[i] & MagnitudeMask;
            if ((i & 1) == 0)
            {
                left = Math.Max(left, magnitude);
            }
            else
            {
                right = Math.Max(right, magnitude);
            }
        }

        return channels == 2 ? (left, right) : (Math.Max(left, right), Math.Max(left, right));
    }

    /// <summary>Copies one channel out of interleaved frames; plainly: target[i] = interleaved[(i · channels) + channel].</summary>
    /// <param name="interleaved">At least as many frames as <paramref name="target"/> has room for.</param>
    /// <param name="channels">1 or 2.</param>
    /// <param name="channel">0 or 1.</param>
    /// <param name="target">Filled.</param>
    public static void CopyChannel(ReadOnlySpan<float> interleaved, int channels, int channel, Span<float> target)
    {
        if (channels == 1)
        {
            interleaved[..target.Length].CopyTo(target);
            return;
        }

        // A stereo frame is one word of 64 bits, its first sample the lower half.
        ReadOnlySpan<ulong> frames = MemoryMarshal.Cast<float, ulong>(interleaved[..(2 * target.Length)]);
        Span<uint> bits = MemoryMarshal.Cast<float, uint>(target);
        int shift = 32 * channel;
        int lanes = Vector256<ulong>.Count;
        int i = 0;
        for (; i + (2 * lanes) <= frames.Length; i += 2 * lanes)
        {
            Vector256.Narrow(Vector256.Create(frames[i..]) >> shift, Vector256.Create(frames[(i + lanes)..]) >> shift).CopyTo(bits[i..]);
        }

        for (; i < frames.Length; i++)
        {
            bits[i] = (uint)(frames[i] >> shift);
        }
    }

    /// <summary>Copies samples, with 0 for magnitudes below 2^-64.</summary>
    public static void CopyWithoutDenormals(ReadOnlySpan<float> source, Span<float> target)
    {
        ReadOnlySpan<int> from = MemoryMarshal.Cast<float, int>(source);
        Span<int> to = MemoryMarshal.Cast<float, int>(target[..source.Length]);
        Vector256<int> mask = Vector256.Create(MagnitudeMask);
        Vector256<int> limit = Vector256.Create(NegligibleBits);
        ReadOnlySpan<Vector256<int>> vectors = MemoryMarshal.Cast<int, Vector256<int>>(from);
        Span<Vector256<int>> cleaned = MemoryMarshal.Cast<int, Vector256<int>>(to);
        for (int i = 0; i < vectors.Length; i++)
        {
            cleaned[i] = vectors[i] & Vector256.GreaterThanOrEqual(vectors[i] & mask, limit);
        }

        for (int i = vectors.Length * Vector256<int>.Count; i < from.Length; i++)
        {
            to[i] = (from[i] & MagnitudeMask) >= NegligibleBits ? from[i] : 0;
        }
    }

    /// <summary>Replaces in place: 0 for what is not finite, ±<see cref="InvalidSampleMeter.LargestCredible"/> for what is larger.</summary>
    public static void ReplaceIncredible(Span<float> samples)
    {
        (int left, int right) = MaxMagnitudeBits(samples, channels: 1);
        if (Math.Max(left, right) <= FullScaleBits)
        {
            return;
        }

        foreach (ref float sample in samples)
        {
            sample = float.IsFinite(sample)
                ? Math.Clamp(sample, -InvalidSampleMeter.LargestCredible, InvalidSampleMeter.LargestCredible)
                : 0;
        }
    }

    /// <summary>All samples as 32-bit fixed point, OR-ed: its lowest set bit is the finest bit in use.</summary>
    public static int UsedBits(ReadOnlySpan<float> samples)
    {
        const float Scale = 2147483648f;
        Vector256<int> used = Vector256<int>.Zero;
        ReadOnlySpan<Vector256<float>> vectors = MemoryMarshal.Cast<float, Vector256<float>>(samples);
        foreach (Vector256<float> vector in vectors)
        {
            used |= Vector256.ConvertToInt32(vector * Scale);
        }

        int bits = 0;
        for (int lane = 0; lane < Vector256<int>.Count; lane++)
        {
            bits |= used[lane];
        }

        for (int i = vectors.Length * Vector256<int>.Count; i < samples.Length; i++)
        {
            bits |= Vector128.ConvertToInt32(Vector128.CreateScalar(samples[i] * Scale)).ToScalar();
        }

        return bits;
    }
}
