using System.Buffers.Binary;

namespace Station.Daemon.Intake;

/// <summary>
/// Compares the lengths a sound file's header states with the file. Recorders write placeholders first and the lengths last, and a copy in progress
/// is shorter than its header says: both are <see cref="HeaderState.Unfinished"/>, and so is what a crash left. Pure; decides only how long to wait, never
/// whether a file can be taken, so it may be wrong about odd files.
/// </summary>
/// <remarks>
/// Layouts: Multimedia Programming Interface and Data Specifications 1.0 (RIFF), EBU Tech 3306 and ITU-R BS.2088 (RF64, BW64: ds64), Sony Wave64, AIFF 1.3,
/// RFC 9639 (FLAC); all from memory. Placeholders: 0 and 0xFFFFFFFF (common practice, no source).
/// </remarks>
internal static class HeaderPlausibility
{
    /// <summary>How much of a file's beginning is looked at. Chunks behind it are not.</summary>
    public const int WantedBytes = 64 * 1024;

    private const uint Placeholder = 0xFFFF_FFFF;

    // The first GUID of a Wave64 file: "riff" and a fixed rest.
    private static ReadOnlySpan<byte> Wave64 => [0x72, 0x69, 0x66, 0x66, 0x2E, 0x91, 0xCF, 0x11, 0xA5, 0xD6, 0x28, 0xDB, 0x04, 0xC1, 0x00, 0x00];

    private static ReadOnlySpan<byte> Wave64Data => [0x64, 0x61, 0x74, 0x61, 0xF3, 0xAC, 0xD3, 0x11, 0x8C, 0xD1, 0x00, 0xC0, 0x4F, 0x8E, 0xDB, 0x8A];

    /// <param name="head">The first <see cref="WantedBytes"/> bytes of the file, or all it has.</param>
    /// <param name="fileBytes">Length of the file.</param>
    public static HeaderState Judge(ReadOnlySpan<byte> head, long fileBytes)
    {
        if (fileBytes == 0)
        {
            return HeaderState.Unfinished;
        }

        if (head.StartsWith("RIFF"u8))
        {
            return Riff(head, fileBytes);
        }

        if (head.StartsWith("RF64"u8) || head.StartsWith("BW64"u8))
        {
            return Rf64(head, fileBytes);
        }

        if (head.Length is >= 4 and < 16 && Wave64.StartsWith(head))
        {
            return HeaderState.Unfinished;
        }

        if (head.StartsWith(Wave64))
        {
            return W64(head, fileBytes);
        }

        if (head.StartsWith("FORM"u8))
        {
            return Aiff(head, fileBytes);
        }

        return head.StartsWith("fLaC"u8) ? Flac(head) : HeaderState.Unknown;
    }

    private static HeaderState Riff(ReadOnlySpan<byte> head, long fileBytes)
    {
        if (head.Length < 12)
        {
            return HeaderState.Unfinished;
        }

        if (!head[8..].StartsWith("WAVE"u8))
        {
            return HeaderState.Unknown;
        }

        uint stated = U32(head, 4);
        return stated is not (0 or Placeholder) && Agrees(8 + (long)stated, fileBytes, slack: 1) ? Chunks(head, fileBytes, longData: null) : HeaderState.Unfinished;
    }

    private static HeaderState Rf64(ReadOnlySpan<byte> head, long fileBytes)
    {
        if (head.Length < 36)
        {
            return HeaderState.Unfinished;
        }

        uint stated = U32(head, 4);
        bool hasLong = head[12..].StartsWith("ds64"u8);
        if (!hasLong || stated != Placeholder)
        {
            return stated is not (0 or Placeholder) && Agrees(8 + (long)stated, fileBytes, slack: 1) ? Chunks(head, fileBytes, longData: null) : HeaderState.Unfinished;
        }

        ulong whole = U64(head, 20);
        ulong data = U64(head, 28);
        return whole != 0 && data != 0 && whole < long.MaxValue - 8 && Agrees(8 + (long)whole, fileBytes, slack: 1)
            ? Chunks(head, fileBytes, data)
            : HeaderState.Unfinished;
    }

    /// <summary>Looks for the data chunk; chunks are padded to even lengths.</summary>
    /// <param name="longData">Length of the data from ds64, which counts when the chunk's own is the placeholder.</param>
    private static HeaderState Chunks(ReadOnlySpan<byte> head, long fileBytes, ulong? longData)
    {
        long at = 12;
        while (at + 8 <= head.Length)
        {
            uint size = U32(head, (int)at + 4);
            if (head[(int)at..].StartsWith("data"u8))
            {
                ulong bytes = size == Placeholder ? longData ?? 0 : size;
                return bytes != 0 && bytes <= (ulong)Math.Max(0, fileBytes - at - 8) ? HeaderState.Finished : HeaderState.Unfinished;
            }

            at += 8 + (long)size + (size & 1);
        }

        // Behind what was looked at: the length of the whole was right, which is written last of all.
        return at <= fileBytes ? HeaderState.Finished : HeaderState.Unfinished;
    }

    private static HeaderState W64(ReadOnlySpan<byte> head, long fileBytes)
    {
        if (head.Length < 40)
        {
            return HeaderState.Unfinished;
        }

        // Lengths include their own 24 bytes; chunks begin at multiples of 8.
        if (U64(head, 16) is 0 or >= long.MaxValue || !Agrees((long)U64(head, 16), fileBytes, slack: 7))
        {
            return HeaderState.Unfinished;
        }

        long at = 40;
        while (at + 24 <= head.Length)
        {
            ulong size = U64(head, (int)at + 16);
            if (head[(int)at..].StartsWith(Wave64Data))
            {
                return size > 24 && size <= (ulong)(fileBytes - at) ? HeaderState.Finished : HeaderState.Unfinished;
            }

            if (size < 24 || size > (ulong)fileBytes)
            {
                return HeaderState.Unfinished;
            }

            at += (long)((size + 7) & ~7UL);
        }

        return at <= fileBytes ? HeaderState.Finished : HeaderState.Unfinished;
    }

    private static HeaderState Aiff(ReadOnlySpan<byte> head, long fileBytes)
    {
        if (head.Length < 12)
        {
            return HeaderState.Unfinished;
        }

        if (!head[8..].StartsWith("AIFF"u8) && !head[8..].StartsWith("AIFC"u8))
        {
            return HeaderState.Unknown;
        }

        uint stated = BinaryPrimitives.ReadUInt32BigEndian(head[4..]);
        if (stated is 0 or Placeholder || !Agrees(8 + (long)stated, fileBytes, slack: 1))
        {
            return HeaderState.Unfinished;
        }

        long at = 12;
        while (at + 8 <= head.Length)
        {
            uint size = BinaryPrimitives.ReadUInt32BigEndian(head[((int)at + 4)..]);
            ReadOnlySpan<byte> chunk = head[(int)at..];
            if (chunk.StartsWith("SSND"u8) && (size <= 8 || size > fileBytes - at - 8))
            {
                return HeaderState.Unfinished;      // 8 bytes of offset and block size come before the samples
            }

            if (chunk.StartsWith("COMM"u8) && chunk.Length >= 14 && BinaryPrimitives.ReadUInt32BigEndian(chunk[10..]) is 0 or Placeholder)
            {
                return HeaderState.Unfinished;      // frames
            }

            at += 8 + (long)size + (size & 1);
        }

        return at <= fileBytes + 1 ? HeaderState.Finished : HeaderState.Unfinished;
    }

    /// <summary>STREAMINFO says how many samples there are, not how many bytes: a copy in progress can't be told.</summary>
    private static HeaderState Flac(ReadOnlySpan<byte> head)
    {
        const int TotalAt = 18;     // 36 bits, the last of the eight bytes from here
        const int Md5At = 26;
        if (head.Length < Md5At + 16)
        {
            return HeaderState.Unfinished;
        }

        if ((head[4] & 0x7F) != 0)
        {
            return HeaderState.Unknown;
        }

        ulong total = BinaryPrimitives.ReadUInt64BigEndian(head[TotalAt..]) & 0xF_FFFF_FFFF;
        return total != 0 && head.Slice(Md5At, 16).ContainsAnyExcept((byte)0) ? HeaderState.Finished : HeaderState.Unfinished;
    }

    private static bool Agrees(long stated, long fileBytes, int slack) => Math.Abs(stated - fileBytes) <= slack;

    private static uint U32(ReadOnlySpan<byte> head, int at) => BinaryPrimitives.ReadUInt32LittleEndian(head[at..]);

    private static ulong U64(ReadOnlySpan<byte> head, int at) => BinaryPrimitives.ReadUInt64LittleEndian(head[at..]);
}
