namespace Station.Audio.Tests.Reading;

/// <summary>
/// AIFF and AIFF-C written byte by byte, sharing nothing with the reader. Apple "Audio Interchange File Format" 1.3 and "AIFF-C" draft of
/// 1991 (from memory; checked by what ffmpeg 5.1.9 and Python's aifc read).
/// </summary>
internal static class AiffBytes
{
    /// <summary>Version 1 of AIFF-C, the only one there is.</summary>
    public static readonly byte[] Fver = Chunk("FVER", [0xA2, 0x80, 0x51, 0x40]);

    /// <summary>Sample rates as 80-bit numbers: bits of the integer shifted up until its leading 1 is the highest of 64.</summary>
    public static byte[] Rate(long hertz)
    {
        int exponent = 16383 + 63;
        ulong mantissa = (ulong)hertz;
        while (mantissa != 0 && (mantissa >> 63) == 0)
        {
            mantissa <<= 1;
            exponent--;
        }

        return mantissa == 0 ? new byte[10] : [.. U16(exponent), .. U32((uint)(mantissa >> 32)), .. U32((uint)mantissa)];
    }

    public static byte[] Chunk(string id, byte[] content, uint? statedSize = null, bool pad = true) =>
        [.. System.Text.Encoding.ASCII.GetBytes(id), .. U32(statedSize ?? (uint)content.Length), .. content, .. pad && content.Length % 2 == 1 ? new byte[1] : []];

    public static byte[] Comm(int channels, uint frames, int bits, long rateHz, string? type = null) =>
        CommWithRate(channels, frames, bits, Rate(rateHz), type);

    public static byte[] CommWithRate(int channels, uint frames, int bits, byte[] rate, string? type = null) => Chunk(
        "COMM",
        [
            .. U16(channels), .. U32(frames), .. U16(bits), .. rate,
            .. type is null ? [] : (byte[])[.. System.Text.Encoding.Latin1.GetBytes(type), 0, 0], // a counted text of length 0 and its filler
        ]);

    public static byte[] Ssnd(byte[] sound, uint? statedSize = null, uint offset = 0, uint blockSize = 0, bool pad = true) =>
        Chunk("SSND", [.. U32(offset), .. U32(blockSize), .. new byte[offset], .. sound], statedSize, pad);

    public static byte[] Form(string type, params byte[][] chunks) => FormStating(null, type, chunks);

    public static byte[] FormStating(uint? size, string type, params byte[][] chunks)
    {
        byte[] body = [.. chunks.SelectMany(c => c)];
        return [.. "FORM"u8, .. U32(size ?? (uint)(body.Length + 4)), .. System.Text.Encoding.ASCII.GetBytes(type), .. body];
    }

    /// <summary>Each word's bytes turned round.</summary>
    public static byte[] Reversed(byte[] words, int wordBytes) => [.. words.Chunk(wordBytes).SelectMany(w => w.Reverse())];

    public static byte[] U16(int value) => [(byte)(value >> 8), (byte)value];

    public static byte[] U32(uint value) => [(byte)(value >> 24), (byte)(value >> 16), (byte)(value >> 8), (byte)value];
}
