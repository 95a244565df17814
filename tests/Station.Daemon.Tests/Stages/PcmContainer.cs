using System.Buffers.Binary;
using System.Text;

namespace Station.Daemon.Tests.Stages;

/// <summary>Wave64 and AIFF files around given little-endian words, written byte by byte (formats: Sony's Wave64 paper, Apple's AIFF 1.3 and AIFF-C, second-hand).</summary>
internal static class PcmContainer
{
    private const string Family = "F3ACD3118CD100C04F8EDB8A";

    /// <summary>With chunks around the sound, and junk of three bytes at the end.</summary>
    public static byte[] Wave64(int tag, int rateHz, int bits, byte[] words)
    {
        byte[] wav = WaveFile.Make(tag, 2, rateHz, bits, []);
        byte[] body =
        [
            .. Guid("wave"), .. Chunk64("JUNK", new byte[13]), .. Chunk64("fmt ", wav[20..36]), .. Chunk64("data", words), .. Chunk64("LIST", [.. "INFOx"u8]),
        ];
        byte[] size = new byte[8];
        BinaryPrimitives.WriteInt64LittleEndian(size, 24 + body.Length);
        return [.. Convert.FromHexString("726966662E91CF11A5D628DB04C10000"), .. size, .. body, 1, 2, 3];
    }

    /// <summary>AIFF, or AIFF-C when a compression type is given, with COMM behind the sound, an SSND offset and a name.</summary>
    public static byte[] Aiff(string? type, int rateHz, int bits, byte[] words, bool littleEndian = false)
    {
        int wordBytes = bits / 8;
        byte[] stored = littleEndian ? words : [.. words.Chunk(wordBytes).SelectMany(w => w.Reverse())];
        ulong mantissa = (ulong)rateHz << 47;
        int shift = System.Numerics.BitOperations.LeadingZeroCount(mantissa);
        byte[] comm =
        [
            0, 2, .. U32((uint)(words.Length / (2 * wordBytes))), 0, (byte)bits, .. U16(16383 + 16 - shift), .. U32((uint)((mantissa << shift) >> 32)), .. U32((uint)(mantissa << shift)),
            .. type is null ? [] : (byte[])[.. Encoding.ASCII.GetBytes(type), 0, 0],
        ];
        byte[] body =
        [
            .. Encoding.ASCII.GetBytes(type is null ? "AIFF" : "AIFC"), .. Chunk("NAME", [.. "Low Water"u8]),
            .. Chunk("SSND", [0, 0, 0, 4, 0, 0, 0, 0, 9, 9, 9, 9, .. stored]), .. Chunk("COMM", comm), .. Chunk("ANNO", [.. "odd"u8]),
        ];
        return [.. "FORM"u8, .. U32((uint)body.Length), .. body];
    }

    private static byte[] Guid(string letters) => [.. Encoding.ASCII.GetBytes(letters), .. Convert.FromHexString(Family)];

    private static byte[] Chunk64(string letters, byte[] content)
    {
        byte[] size = new byte[8];
        BinaryPrimitives.WriteInt64LittleEndian(size, 24 + content.Length);
        return [.. Guid(letters), .. size, .. content, .. new byte[(8 - (content.Length % 8)) % 8]];
    }

    private static byte[] Chunk(string id, byte[] content) =>
        [.. Encoding.ASCII.GetBytes(id), .. U32((uint)content.Length), .. content, .. new byte[content.Length % 2]];

    private static byte[] U16(int value) => [(byte)(value >> 8), (byte)value];

    private static byte[] U32(uint value) => [(byte)(value >> 24), (byte)(value >> 16), (byte)(value >> 8), (byte)value];
}
