namespace Station.Mutation.Mutations;

/// <summary>
/// Puts the checksums of FLAC frames right again after they were changed, so that what is wrong gets past the checksum to whatever reads it.
/// RFC 9639 §9.1 (header), §9.1.8 (CRC-8: x⁸+x²+x+1), §9.3 (CRC-16: x¹⁶+x¹⁵+x²+1), both from 0.
/// </summary>
public static class FlacChecksums
{
    /// <summary>The magic and STREAMINFO.</summary>
    private const int LeastHead = 42;

    private static readonly int[] Crc8 = TableOf(8, 0x07);
    private static readonly int[] Crc16 = TableOf(16, 0x8005);

    /// <summary>Changes the checksums in place; what looks like a frame is one.</summary>
    public static void PutRight(Span<byte> file)
    {
        int frame = Next(file, LeastHead, first: -1);
        int first = frame;
        while (frame >= 0)
        {
            int next = Next(file, frame + 6, first);
            int end = next < 0 ? file.Length : next;
            int header = HeaderBytes(file[frame..end]);
            if (header > 0 && frame + header + 3 <= end)
            {
                file[frame + header] = (byte)Crc(file.Slice(frame, header), 8, Crc8);
                int crc = Crc(file[frame..(end - 2)], 16, Crc16);
                file[end - 2] = (byte)(crc >> 8);
                file[end - 1] = (byte)crc;
            }

            frame = next;
        }
    }

    /// <summary>Where the next header stands: the sync code, no reserved value, blocking strategy, rate and depth as in the first frame.</summary>
    private static int Next(ReadOnlySpan<byte> file, int from, int first)
    {
        for (int at = from; at + 6 < file.Length; at++)
        {
            if (file[at] == 0xFF && (file[at + 1] & 0xFE) == 0xF8 && file[at + 2] >> 4 != 0 && (file[at + 2] & 0xF) != 0xF
                && file[at + 3] >> 4 <= 10 && (file[at + 3] & 1) == 0
                && (first < 0 || (file[at + 1] == file[first + 1] && (file[at + 2] & 0xF) == (file[first + 2] & 0xF) && (file[at + 3] & 0xF) == (file[first + 3] & 0xF))))
            {
                return at;
            }
        }

        return -1;
    }

    /// <summary>Length without the CRC-8; 0 when the coded number is none.</summary>
    private static int HeaderBytes(ReadOnlySpan<byte> frame)
    {
        int ones = System.Numerics.BitOperations.LeadingZeroCount((uint)(byte)~frame[4] << 24);
        if (ones is 1 or > 7)
        {
            return 0;
        }

        int sizeBytes = (frame[2] >> 4) switch { 6 => 1, 7 => 2, _ => 0 };
        int rateBytes = (frame[2] & 0xF) switch { 12 => 1, 13 or 14 => 2, _ => 0 };
        return 4 + Math.Max(1, ones) + sizeBytes + rateBytes;
    }

    private static int Crc(ReadOnlySpan<byte> bytes, int width, int[] table)
    {
        int crc = 0;
        int mask = (1 << width) - 1;
        foreach (byte b in bytes)
        {
            crc = ((crc << 8) ^ table[((crc >> (width - 8)) ^ b) & 0xFF]) & mask;
        }

        return crc;
    }

    /// <summary>What each value of the upper eight bits becomes after eight steps of the division.</summary>
    private static int[] TableOf(int width, int polynomial)
    {
        int[] table = new int[256];
        for (int i = 0; i < table.Length; i++)
        {
            int crc = i << (width - 8);
            for (int bit = 0; bit < 8; bit++)
            {
                crc = (crc & (1 << (width - 1))) != 0 ? (crc << 1) ^ polynomial : crc << 1;
            }

            table[i] = crc & ((1 << width) - 1);
        }

        return table;
    }
}
