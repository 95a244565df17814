using System.Buffers.Binary;

namespace Station.Audio.Tests.Reading;

/// <summary>
/// WAV, RF64 and BW64 written byte by byte from the specifications, sharing nothing with the reader. RIFF: "Multimedia Programming
/// Interface and Data Specifications 1.0", IBM/Microsoft 1991 (from memory); extensible fmt: 40 bytes, PCM and float GUIDs (observed in
/// files of ffmpeg 5.1.9); ds64: u64 RIFF size, u64 data size, u64 sample count, u32 table length (EBU Tech 3306, ITU-R BS.2088-2
/// §4.1, second-hand; RF64 layout observed in files of ffmpeg 5.1.9).
/// </summary>
internal static class WaveBytes
{
    public static byte[] Chunk(string id, byte[] content, uint? statedSize = null, bool pad = true)
    {
        using var bytes = new MemoryStream();
        bytes.Write(System.Text.Encoding.ASCII.GetBytes(id));
        bytes.Write(U32(statedSize ?? (uint)content.Length));
        bytes.Write(content);
        if (pad && content.Length % 2 == 1)
        {
            bytes.WriteByte(0);
        }

        return bytes.ToArray();
    }

    public static byte[] Fmt(int tag, int channels, long rateHz, int wordBytes, int bits, int? blockAlign = null)
    {
        int align = blockAlign ?? (channels * wordBytes);
        return Chunk("fmt ", [.. U16(tag), .. U16(channels), .. U32((uint)rateHz), .. U32((uint)(rateHz * align)), .. U16(align), .. U16(bits)]);
    }

    public static byte[] FmtExtensible(int tag, int channels, long rateHz, int wordBytes, int validBits, int? containerBits = null)
    {
        int align = channels * wordBytes;
        return Chunk(
            "fmt ",
            [
                .. U16(0xFFFE), .. U16(channels), .. U32((uint)rateHz), .. U32((uint)(rateHz * align)), .. U16(align),
                .. U16(containerBits ?? (8 * wordBytes)), .. U16(22), .. U16(validBits), .. U32(channels == 2 ? 3u : 4u),
                .. U16(tag), 0x00, 0x00, 0x00, 0x00, 0x10, 0x00, 0x80, 0x00, 0x00, 0xAA, 0x00, 0x38, 0x9B, 0x71,
            ]);
    }

    public static byte[] Riff(params byte[][] chunks)
    {
        byte[] body = [.. chunks.SelectMany(c => c)];
        return [.. "RIFF"u8, .. U32((uint)(body.Length + 4)), .. "WAVE"u8, .. body];
    }

    /// <summary>RF64 or BW64: sizes in ds64, 0xFFFFFFFF in the header. The data chunk must be given with that size too.</summary>
    public static byte[] Wide(string id, long dataBytes, long frames, params byte[][] chunks)
    {
        byte[] body = [.. chunks.SelectMany(c => c)];
        long riffBytes = 4 + 36 + body.Length;
        return
        [
            .. System.Text.Encoding.ASCII.GetBytes(id), .. U32(0xFFFF_FFFF), .. "WAVE"u8,
            .. Chunk("ds64", [.. U64(riffBytes), .. U64(dataBytes), .. U64(frames), .. U32(0)]),
            .. body,
        ];
    }

    public static byte[] WithRiffSize(byte[] file, uint size)
    {
        byte[] copy = [.. file];
        BinaryPrimitives.WriteUInt32LittleEndian(copy.AsSpan(4), size);
        return copy;
    }

    /// <summary>Seeded words with the extremes of every width in front.</summary>
    public static byte[] Words(int seed, int bytes)
    {
        byte[] words = new byte[bytes];
        new Random(seed).NextBytes(words);
        return words;
    }

    /// <summary>Finite floats, mostly within ±1.</summary>
    public static byte[] Floats(int seed, int count, int width)
    {
        var random = new Random(seed);
        byte[] words = new byte[count * width];
        for (int i = 0; i < count; i++)
        {
            double value = (random.NextDouble() * 2.2) - 1.1;
            if (width == 4)
            {
                BinaryPrimitives.WriteSingleLittleEndian(words.AsSpan(i * 4), (float)value);
            }
            else
            {
                BinaryPrimitives.WriteDoubleLittleEndian(words.AsSpan(i * 8), value);
            }
        }

        return words;
    }

    public static byte[] U16(int value) => [(byte)value, (byte)(value >> 8)];

    public static byte[] U32(uint value) => [(byte)value, (byte)(value >> 8), (byte)(value >> 16), (byte)(value >> 24)];

    public static byte[] U64(long value)
    {
        byte[] bytes = new byte[8];
        BinaryPrimitives.WriteInt64LittleEndian(bytes, value);
        return bytes;
    }
}
