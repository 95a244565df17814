using System.Buffers.Binary;

namespace Station.Daemon.Tests.Intake.SlowWriters;

/// <summary>
/// Files with sound of each container, whole, and where in them the lengths stand that recorders fill in last. Only headers matter here: the samples are noise.
/// </summary>
/// <remarks>
/// Layouts from the formats' specifications, from memory: RIFF/WAVE, EBU Tech 3306 (RF64), ITU-R BS.2088 (BW64), Sony Wave64, AIFF 1.3, RFC 9639 (FLAC).
/// </remarks>
internal sealed record SoundBytes(string Extension, byte[] Whole, (int At, int Length)[] Lengths, int HeaderBytes)
{
    public static string[] Kinds { get; } = ["wav", "wav with a note first", "rf64", "bw64", "w64", "aiff", "aifc", "flac"];

    /// <param name="samples">Bytes of noise, a multiple of 8.</param>
    public static SoundBytes Of(string kind, int samples, Random random)
    {
        byte[] noise = new byte[samples];
        random.NextBytes(noise);
        return kind switch
        {
            "wav" => Wav(noise, note: 0),
            "wav with a note first" => Wav(noise, note: 602),
            "rf64" => Rf64("RF64", noise),
            "bw64" => Rf64("BW64", noise),
            "w64" => W64(noise),
            "aiff" => Aiff("AIFF", noise),
            "aifc" => Aiff("AIFC", noise),
            "flac" => Flac(noise),
            _ => throw new ArgumentOutOfRangeException(nameof(kind), kind, "no such container"),
        };
    }

    /// <summary>With the lengths not filled in yet.</summary>
    public byte[] Begun(byte filler = 0)
    {
        byte[] bytes = [.. Whole];
        foreach ((int at, int length) in Lengths)
        {
            bytes.AsSpan(at, length).Fill(filler);
        }

        return bytes;
    }

    private static SoundBytes Wav(byte[] noise, int note)
    {
        byte[] format = [1, 0, 2, 0, 0x44, 0xAC, 0, 0, 0x10, 0xB1, 2, 0, 4, 0, 16, 0];
        byte[] chunks = [.. "fmt "u8, .. Little(16), .. format, .. note == 0 ? [] : (byte[])[.. "bext"u8, .. Little(note), .. new byte[note]]];
        byte[] whole = [.. "RIFF"u8, .. Little(4 + chunks.Length + 8 + noise.Length), .. "WAVE"u8, .. chunks, .. "data"u8, .. Little(noise.Length), .. noise];
        int data = 12 + chunks.Length;
        return new SoundBytes("wav", whole, [(4, 4), (data + 4, 4)], data + 8);
    }

    private static SoundBytes Rf64(string magic, byte[] noise)
    {
        byte[] format = [1, 0, 2, 0, 0x44, 0xAC, 0, 0, 0x10, 0xB1, 2, 0, 4, 0, 16, 0];
        long size = 4 + 36 + 24 + 8 + noise.Length;
        byte[] whole =
        [
            .. System.Text.Encoding.ASCII.GetBytes(magic), 0xFF, 0xFF, 0xFF, 0xFF, .. "WAVE"u8,
            .. "ds64"u8, .. Little(28), .. Long(size), .. Long(noise.Length), .. Long(noise.Length / 4), .. Little(0),
            .. "fmt "u8, .. Little(16), .. format, .. "data"u8, 0xFF, 0xFF, 0xFF, 0xFF, .. noise,
        ];
        return new SoundBytes("wav", whole, [(20, 8), (28, 8), (36, 8)], 80);
    }

    private static SoundBytes W64(byte[] noise)
    {
        byte[] rest = [0xF3, 0xAC, 0xD3, 0x11, 0x8C, 0xD1, 0x00, 0xC0, 0x4F, 0x8E, 0xDB, 0x8A];
        byte[] format = [1, 0, 2, 0, 0x44, 0xAC, 0, 0, 0x10, 0xB1, 2, 0, 4, 0, 16, 0];
        long size = 40 + 40 + 24 + noise.Length;
        byte[] whole =
        [
            .. "riff"u8, 0x2E, 0x91, 0xCF, 0x11, 0xA5, 0xD6, 0x28, 0xDB, 0x04, 0xC1, 0x00, 0x00, .. Long(size),
            .. "wave"u8, .. rest, .. "fmt "u8, .. rest, .. Long(40), .. format, .. "data"u8, .. rest, .. Long(24 + noise.Length), .. noise,
        ];
        return new SoundBytes("w64", whole, [(16, 8), (96, 8)], 104);
    }

    private static SoundBytes Aiff(string form, byte[] noise)
    {
        byte[] rate = [0x40, 0x0E, 0xAC, 0x44, 0, 0, 0, 0, 0, 0];       // 44100 as an 80-bit float
        byte[] common = [0, 2, .. Big(noise.Length / 4), 0, 16, .. rate, .. form == "AIFC" ? (byte[])[.. "NONE"u8, 0, 0] : []];
        byte[] whole =
        [
            .. "FORM"u8, .. Big(4 + 8 + common.Length + 16 + noise.Length), .. System.Text.Encoding.ASCII.GetBytes(form),
            .. "COMM"u8, .. Big(common.Length), .. common, .. "SSND"u8, .. Big(8 + noise.Length), .. new byte[8], .. noise,
        ];
        int sound = 12 + 8 + common.Length;
        return new SoundBytes("aiff", whole, [(4, 4), (22, 4), (sound + 4, 4)], sound + 16);
    }

    private static SoundBytes Flac(byte[] noise)
    {
        byte[] packed = new byte[8];
        BinaryPrimitives.WriteUInt64BigEndian(packed, (44_100UL << 44) | (1UL << 41) | (15UL << 36) | (uint)noise.Length);
        byte[] whole = [.. "fLaC"u8, 0x80, 0, 0, 34, 0x10, 0, 0x10, 0, 0, 0, 0, 0, 0, 0, .. packed, .. System.Security.Cryptography.SHA256.HashData(noise).AsSpan(0, 16), .. noise];
        return new SoundBytes("flac", whole, [(21, 5), (26, 16)], 42);
    }

    private static byte[] Little(int value) => BitConverter.GetBytes(value);

    private static byte[] Long(long value) => BitConverter.GetBytes(value);

    private static byte[] Big(int value) => BitConverter.GetBytes(BinaryPrimitives.ReverseEndianness(value));
}
