using System.Buffers.Binary;
using System.Text;

namespace Station.Audio.Synthesis;

/// <summary>
/// A finished header for a known number of stereo frames: RIFF/WAVE with a plain PCM format at 16 bits and the extensible one at 24
/// ("Multiple Channel Audio Data and WAVE Files", Microsoft: above 16 bits the extensible format is to be used); RF64 with a ds64
/// chunk (EBU Tech 3306) where the 32-bit sizes would overflow.
/// </summary>
internal static class WavHeader
{
    private const int Channels = 2;

    public static byte[] For(long frames, int sampleRateHz, int bitsPerSample)
    {
        int frameBytes = Channels * bitsPerSample / 8;
        long dataBytes = frames * frameBytes;
        long pad = dataBytes % 2;
        bool extensible = bitsPerSample > 16;
        int formatBytes = extensible ? 40 : 16;
        long riffBytes = 4 + 8 + formatBytes + 8 + dataBytes + pad;
        bool large = riffBytes > uint.MaxValue;
        using var header = new MemoryStream();
        Tag(header, large ? "RF64" : "RIFF");
        Number(header, large ? uint.MaxValue : riffBytes, 4);
        Tag(header, "WAVE");
        if (large)
        {
            Tag(header, "ds64");
            Number(header, 28, 4);
            Number(header, riffBytes + 8 + 28, 8);
            Number(header, dataBytes, 8);
            Number(header, frames, 8);
            Number(header, 0, 4);
        }

        Tag(header, "fmt ");
        Number(header, formatBytes, 4);
        Number(header, extensible ? 0xFFFE : 1, 2);
        Number(header, Channels, 2);
        Number(header, sampleRateHz, 4);
        Number(header, (long)sampleRateHz * frameBytes, 4);
        Number(header, frameBytes, 2);
        Number(header, bitsPerSample, 2);
        if (extensible)
        {
            Number(header, 22, 2);
            Number(header, bitsPerSample, 2);
            Number(header, 0x3, 4); // front left, front right

            // KSDATAFORMAT_SUBTYPE_PCM, 00000001-0000-0010-8000-00AA00389B71.
            header.Write([0x01, 0x00, 0x00, 0x00, 0x00, 0x00, 0x10, 0x00, 0x80, 0x00, 0x00, 0xAA, 0x00, 0x38, 0x9B, 0x71]);
        }

        Tag(header, "data");
        Number(header, large ? uint.MaxValue : dataBytes, 4);
        return header.ToArray();
    }

    private static void Tag(MemoryStream header, string tag) => header.Write(Encoding.ASCII.GetBytes(tag));

    private static void Number(MemoryStream header, long value, int bytes)
    {
        Span<byte> all = stackalloc byte[8];
        BinaryPrimitives.WriteInt64LittleEndian(all, value);
        header.Write(all[..bytes]);
    }
}
