using System.Buffers.Binary;
using System.Text;

namespace Station.Daemon.Tests.Stages;

/// <summary>
/// WAV files written byte by byte, sharing nothing with the reader. RIFF: "Multimedia Programming Interface and Data Specifications 1.0",
/// IBM/Microsoft 1991 (from memory): chunks of four letters, a 32-bit length, the content, a pad byte when it is odd.
/// </summary>
internal static class WaveFile
{
    public const int Pcm = 1;
    public const int Float = 3;

    public static byte[] Make(int tag, int channels, int rateHz, int bits, byte[] data, byte[]? before = null, byte[]? after = null, uint? statedData = null)
    {
        int align = channels * bits / 8;
        byte[] body =
        [
            .. "WAVE"u8, .. Chunk("fmt ", [.. U16(tag), .. U16(channels), .. U32((uint)rateHz), .. U32((uint)(rateHz * align)), .. U16(align), .. U16(bits)]),
            .. before ?? [], .. "data"u8, .. U32(statedData ?? (uint)data.Length), .. data, .. data.Length % 2 == 1 ? new byte[1] : [], .. after ?? [],
        ];
        return [.. "RIFF"u8, .. U32((uint)body.Length), .. body];
    }

    public static byte[] Chunk(string id, byte[] content) =>
        [.. Encoding.ASCII.GetBytes(id), .. U32((uint)content.Length), .. content, .. content.Length % 2 == 1 ? new byte[1] : []];

    /// <summary>Two channels of seeded noise under a slow swell, in the words asked for.</summary>
    public static byte[] Sound(int tag, int bits, int frames, int seed, int channels = 2)
    {
        var random = new Random(seed);
        using var data = new MemoryStream();
        Span<byte> word = stackalloc byte[8];
        for (int n = 0; n < frames * channels; n++)
        {
            double value = ((random.NextDouble() * 2) - 1) * 0.25 * (1 + Math.Sin(n / 20_000.0)) / 2;
            if (tag == Float)
            {
                BinaryPrimitives.WriteSingleLittleEndian(word, (float)value);
            }
            else
            {
                BinaryPrimitives.WriteInt64LittleEndian(word, (long)Math.Round(value * (1L << (bits - 1))));
            }

            data.Write(word[..(bits / 8)]);
        }

        return data.ToArray();
    }

    private static byte[] U16(int value) => [(byte)value, (byte)(value >> 8)];

    private static byte[] U32(uint value) => [(byte)value, (byte)(value >> 8), (byte)(value >> 16), (byte)(value >> 24)];
}
