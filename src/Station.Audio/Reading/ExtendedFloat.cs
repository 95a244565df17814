using System.Buffers.Binary;

namespace Station.Audio.Reading;

/// <summary>The 80-bit extended number AIFF states its sample rate in: sign and 15 bits of exponent, 64 bits of mantissa with its leading 1 written out.</summary>
/// <remarks>IEEE 754-1985 double extended as the Standard Apple Numerics Environment stores it, most significant byte first.</remarks>
internal static class ExtendedFloat
{
    /// <summary>Its length.</summary>
    public const int Bytes = 10;

    private const int Bias = 16383;
    private const int MantissaBits = 63;

    /// <returns>The nearest double; null for infinities and what is no number.</returns>
    public static double? Read(ReadOnlySpan<byte> bytes)
    {
        int head = BinaryPrimitives.ReadUInt16BigEndian(bytes);
        ulong mantissa = BinaryPrimitives.ReadUInt64BigEndian(bytes[2..]);
        int exponent = head & 0x7FFF;
        if (exponent == 0x7FFF)
        {
            return null;
        }

        double value = Math.ScaleB((double)mantissa, exponent - Bias - MantissaBits);
        return double.IsFinite(value) ? (head & 0x8000) == 0 ? value : -value : null;
    }
}
