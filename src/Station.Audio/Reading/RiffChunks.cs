using System.Buffers.Binary;
using Microsoft.Win32.SafeHandles;

namespace Station.Audio.Reading;

/// <summary>Chunk headers of a RIFF file and the questions one asks of a place in it: is this a chunk, do chunks lead from here to the end?</summary>
internal sealed class RiffChunks(SafeFileHandle file, long fileLength)
{
    /// <summary>Identifier and size.</summary>
    public const int HeaderBytes = 8;

    /// <summary>Stands for "see ds64" in RF64 and BW64 (EBU Tech 3306, ITU-R BS.2088), and for "not known" in RIFF.</summary>
    public const uint Placeholder = 0xFFFF_FFFF;

    /// <summary>Where chunks behind a sound of unknown length are looked for: tag chunks of one picture fit.</summary>
    private const int TailBytes = 256 * 1024;

    /// <summary>Chains longer than this are no chains.</summary>
    private const int MaxChain = 4096;

    /// <summary>Chunks that are found behind the sound. Names from the RIFF and Broadcast Wave specifications and ID3v2.</summary>
    private static readonly uint[] Known =
    [
        .. new[] { "LIST", "bext", "iXML", "axml", "chna", "cue ", "fact", "id3 ", "ID3 ", "smpl", "inst", "JUNK", "PAD ", "fmt ", "data", "ds64" }
            .Select(Id),
    ];

    /// <summary>Four ASCII characters as the little-endian number they are read as.</summary>
    public static uint Id(string text) => BinaryPrimitives.ReadUInt32LittleEndian(System.Text.Encoding.ASCII.GetBytes(text));

    /// <summary>The identifier as text; only for printable ones.</summary>
    public static string Name(uint id) => $"'{(char)(id & 0xFF)}{(char)((id >> 8) & 0xFF)}{(char)((id >> 16) & 0xFF)}{(char)(id >> 24)}'";

    public static bool IsKnown(uint id) => Array.IndexOf(Known, id) >= 0;

    /// <summary>RIFF identifiers are printable ASCII, padded with blanks.</summary>
    public static bool IsPrintable(uint id)
    {
        for (int shift = 0; shift < 32; shift += 8)
        {
            if (((id >> shift) & 0xFF) is < 0x20 or > 0x7E)
            {
                return false;
            }
        }

        return true;
    }

    /// <summary>Reads a chunk header.</summary>
    /// <returns>False when fewer than eight bytes are left.</returns>
    public bool TryRead(long offset, out uint id, out uint size)
    {
        Span<byte> header = stackalloc byte[HeaderBytes];
        (id, size) = (0, 0);
        if (offset < 0 || offset > fileLength - HeaderBytes)
        {
            return false;
        }

        FileBytes.ReadExactly(file, offset, header);
        id = BinaryPrimitives.ReadUInt32LittleEndian(header);
        size = BinaryPrimitives.ReadUInt32LittleEndian(header[4..]);
        return true;
    }

    /// <summary>True when one or more chunks lead from here exactly to the end of the file.</summary>
    public bool ChainsToEnd(long offset)
    {
        for (int count = 0; count < MaxChain; count++)
        {
            if (!TryRead(offset, out uint id, out uint size) || !IsPrintable(id))
            {
                return false;
            }

            offset += HeaderBytes + (long)size;
            long left = fileLength - offset;
            if (left is 0 || (left == 1 && (size & 1) == 1))
            {
                return true;
            }

            offset += size & 1;
        }

        return false;
    }

    /// <summary>Looks near the end of the file for known chunks that lead exactly to its end.</summary>
    /// <param name="from">Nothing before this offset is a candidate.</param>
    /// <returns>Offset of the first such chunk, or the end of the file.</returns>
    public long FindTail(long from)
    {
        long start = Math.Max(from, fileLength - TailBytes);
        int length = (int)Math.Max(0, fileLength - start);
        byte[] tail = new byte[length];
        FileBytes.ReadExactly(file, start, tail);
        for (int i = 0; i + HeaderBytes <= length; i++)
        {
            if (IsKnown(BinaryPrimitives.ReadUInt32LittleEndian(tail.AsSpan(i))) && ChainsToEnd(start + i))
            {
                return start + i;
            }
        }

        return fileLength;
    }
}
