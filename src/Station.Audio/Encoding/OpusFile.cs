using System.Buffers.Binary;

namespace Station.Audio.Encoding;

/// <summary>The end of an Opus file (RFC 7845): which of the decoded frames are the last ones that count.</summary>
/// <remarks>The encoder rounds its length up to the next 48 kHz frame; a cut's own length rounds to the nearest. The last page says where the sound ends (§4.4).</remarks>
internal static class OpusFile
{
    /// <summary>Frames a second, whatever the encoder was given (RFC 7845 §4).</summary>
    public const int RateHz = 48_000;

    private const int PageHeaderBytes = 27;
    private const int MaxPageBytes = PageHeaderBytes + 255 + (255 * 255);     // RFC 3533 §6
    private const int GranuleAt = 6;
    private const int CrcAt = 22;
    private const int SegmentsAt = 26;
    private const byte LastPage = 4;
    private static readonly uint[] Table = MakeTable();

    /// <summary>Ends the sound after exactly this many frames.</summary>
    /// <param name="path">A file an Opus encoder has just written: one stream, complete.</param>
    /// <param name="frames">At 48 kHz, after pre-skip; at most one less than the file says.</param>
    /// <returns>What is wrong with the file; null when it ends there now.</returns>
    public static string? EndAt(string path, long frames)
    {
        using FileStream file = new(path, FileMode.Open, FileAccess.ReadWrite);
        byte[] start = new byte[PageHeaderBytes + 1 + 19];
        if (file.ReadAtLeast(start, start.Length, throwOnEndOfStream: false) < start.Length
            || !start.AsSpan().StartsWith("OggS"u8) || !start.AsSpan(PageHeaderBytes + 1).StartsWith("OpusHead"u8))
        {
            return "it does not begin as an Opus file";
        }

        int preSkip = BinaryPrimitives.ReadUInt16LittleEndian(start.AsSpan(PageHeaderBytes + 1 + 10));      // RFC 7845 §5.1
        file.Position = Math.Max(0, file.Length - MaxPageBytes);
        byte[] tail = new byte[file.Length - file.Position];
        file.ReadExactly(tail);
        int at = LastPageIn(tail);
        if (at < 0)
        {
            return "its last page is missing";
        }

        Span<byte> page = tail.AsSpan(at);
        long end = BinaryPrimitives.ReadInt64LittleEndian(page[GranuleAt..]);
        long wanted = preSkip + frames;
        if (end != wanted && end != wanted + 1)
        {
            return FormattableString.Invariant($"sent {frames} frames at 48 kHz, the file states {end - preSkip}");
        }

        BinaryPrimitives.WriteInt64LittleEndian(page[GranuleAt..], wanted);
        page.Slice(CrcAt, 4).Clear();
        BinaryPrimitives.WriteUInt32LittleEndian(page[CrcAt..], Crc(page));
        file.Position = file.Length - page.Length;
        file.Write(page);
        return null;
    }

    // The last page reaches to the file's end exactly; its four letters may stand in the sound as well.
    private static int LastPageIn(ReadOnlySpan<byte> tail)
    {
        for (int at = 0; at + PageHeaderBytes <= tail.Length; at++)
        {
            if (tail[at..].StartsWith("OggS"u8) && (tail[at + 5] & LastPage) != 0)
            {
                int segments = tail[at + SegmentsAt];
                int length = PageHeaderBytes + segments;
                if (at + length <= tail.Length)
                {
                    foreach (byte lacing in tail.Slice(at + PageHeaderBytes, segments))
                    {
                        length += lacing;
                    }

                    if (at + length == tail.Length)
                    {
                        return at;
                    }
                }
            }
        }

        return -1;
    }

    // RFC 3533 §6: polynomial 0x04C11DB7, direct, start and final exclusive-or 0, over the page with the checksum field zero.
    private static uint Crc(ReadOnlySpan<byte> page)
    {
        uint crc = 0;
        foreach (byte value in page)
        {
            crc = (crc << 8) ^ Table[(crc >> 24) ^ value];
        }

        return crc;
    }

    private static uint[] MakeTable()
    {
        uint[] table = new uint[256];
        for (uint i = 0; i < 256; i++)
        {
            uint value = i << 24;
            for (int bit = 0; bit < 8; bit++)
            {
                value = (value & 0x8000_0000) != 0 ? (value << 1) ^ 0x04C1_1DB7 : value << 1;
            }

            table[i] = value;
        }

        return table;
    }
}
