namespace Station.Audio.Reading;

/// <summary>The two checksums of a FLAC frame, and a way to compare the second between any two places of one pass.</summary>
internal static class FlacCrc
{
    /// <summary>x⁸ + x² + x + 1 (RFC 9639 §9.1.8).</summary>
    private const int HeaderPolynomial = 0x107;

    /// <summary>x¹⁶ + x¹⁵ + x² + 1 (RFC 9639 §9.3).</summary>
    private const int FramePolynomial = 0x18005;

    /// <summary>
    /// After so many steps the powers of x repeat: the polynomial is (x + 1)(x¹⁵ + x + 1), and the second factor is primitive, so
    /// the order is 2¹⁵ − 1 (computed; a test runs through it).
    /// </summary>
    private const int Order = 32_767;

    /// <summary>Bytes taken in one step by <see cref="Frame"/>.</summary>
    private const int Slices = 8;

    private static readonly byte[] HeaderTable = MakeHeaderTable();
    private static readonly ushort[] FrameTables = MakeFrameTables();
    private static readonly ushort[] InversePowers = MakeInversePowers();

    /// <summary>CRC-8 of a frame header.</summary>
    public static byte Header(ReadOnlySpan<byte> bytes)
    {
        byte crc = 0;
        foreach (byte b in bytes)
        {
            crc = HeaderTable[crc ^ b];
        }

        return crc;
    }

    /// <summary>Goes on with a CRC-16. Over a whole frame with its checksum the result is 0.</summary>
    /// <param name="crc">0 at the start.</param>
    public static ushort Frame(ushort crc, ReadOnlySpan<byte> bytes)
    {
        // Plain equivalent, a byte a step: crc = (ushort)(crc << 8) ^ table[crc >> 8 ^ b]. Table k holds what table 0 becomes after k more zero bytes.
        ReadOnlySpan<ushort> t = FrameTables;
        while (bytes.Length >= Slices)
        {
            crc = (ushort)(t[(7 * 256) + (bytes[0] ^ crc >> 8)] ^ t[(6 * 256) + (bytes[1] ^ crc & 0xFF)]
                ^ t[(5 * 256) + bytes[2]] ^ t[(4 * 256) + bytes[3]] ^ t[(3 * 256) + bytes[4]]
                ^ t[(2 * 256) + bytes[5]] ^ t[256 + bytes[6]] ^ t[bytes[7]]);
            bytes = bytes[Slices..];
        }

        foreach (byte b in bytes)
        {
            crc = (ushort)(crc << 8 ^ t[crc >> 8 ^ b]);
        }

        return crc;
    }

    /// <summary>
    /// A key of a place in a stream: the bytes between two places end in their own CRC-16 exactly when the keys of the two are equal.
    /// </summary>
    /// <param name="crc">CRC-16 of everything from the beginning of the pass to this place.</param>
    /// <param name="bytes">How many bytes that is.</param>
    /// <remarks>
    /// The CRC of a piece is C(end) − C(start)·x^(8·length); multiplied by x^(−8·end) that is key(end) − key(start). So every pair of
    /// places is compared without reading the bytes between them again, which is what keeps a search linear.
    /// </remarks>
    public static ushort Key(ushort crc, long bytes) => Multiply(crc, InversePowers[(int)(8 * (bytes % Order) % Order)]);

    private static ushort Multiply(int a, int b)
    {
        int product = 0;
        for (; b != 0; b >>= 1)
        {
            product ^= (b & 1) != 0 ? a : 0;
            a <<= 1;
            a ^= (a & 0x10000) != 0 ? FramePolynomial : 0;
        }

        return (ushort)product;
    }

    private static byte[] MakeHeaderTable()
    {
        byte[] table = new byte[256];
        for (int b = 0; b < table.Length; b++)
        {
            int crc = b;
            for (int bit = 0; bit < 8; bit++)
            {
                crc <<= 1;
                crc ^= (crc & 0x100) != 0 ? HeaderPolynomial : 0;
            }

            table[b] = (byte)crc;
        }

        return table;
    }

    private static ushort[] MakeFrameTables()
    {
        ushort[] tables = new ushort[Slices * 256];
        for (int b = 0; b < 256; b++)
        {
            int crc = b << 8;
            for (int slice = 0; slice < Slices; slice++)
            {
                for (int bit = 0; bit < 8; bit++)
                {
                    crc <<= 1;
                    crc ^= (crc & 0x10000) != 0 ? FramePolynomial : 0;
                }

                tables[(slice * 256) + b] = (ushort)crc;
            }
        }

        return tables;
    }

    private static ushort[] MakeInversePowers()
    {
        ushort[] powers = new ushort[Order];
        int power = 1;
        for (int n = 0; n < Order; n++)
        {
            powers[n] = (ushort)power;
            power = ((power & 1) != 0 ? power ^ FramePolynomial : power) >> 1; // divided by x
        }

        return powers;
    }
}
