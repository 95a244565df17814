namespace Station.Audio.Tests.Reading;

/// <summary>The sound that the damaged files hold: one second, 48 kHz, stereo, 24 bit.</summary>
internal static class DamageBase
{
    public const int Frames = 48_000;
    public const int FrameBytes = 6;

    public static byte[] Sound { get; } = WaveBytes.Words(20, Frames * FrameBytes);

    public static byte[] Junk { get; } = [1, .. new byte[4999]];

    /// <summary>Two seconds of zeros behind the sound, whose last byte is none.</summary>
    public static byte[] Reserved { get; } = [.. Sound[..^1], 9, .. new byte[2 * Frames * FrameBytes]];

    /// <summary>What is left of a file that ends 4 bytes into frame 12,000.</summary>
    public const int CutAt = (12_000 * FrameBytes) + 4;

    public static byte[] CutSound { get; } = Sound[..(12_000 * FrameBytes)];

    /// <summary>A second sound.</summary>
    public static byte[] Second { get; } = WaveBytes.Words(23, 6000);

    /// <summary>Version 2 with a word of each kind; EBU Tech 3285 §2.3.</summary>
    public static byte[] Bext { get; } = MakeBext("Side A, Lantern Street");

    public static byte[] MakeBext(string description)
    {
        byte[] content = new byte[602];
        System.Text.Encoding.Latin1.GetBytes(description).CopyTo(content, 0);
        content[346] = 2;
        return [.. content, .. "A=PCM,F=48000\r\n"u8];
    }

    /// <summary>Writes header, hole, last bytes of the sound and what follows: gigabytes that use no disk.</summary>
    public static CaptureCase Huge(byte[] header, long soundBytes, int frameBytes, byte[] behind)
    {
        byte[] last = WaveBytes.Words(29, frameBytes * 100);
        return new(
            path =>
            {
                using var file = new FileStream(path, FileMode.CreateNew);
                file.Write(header);
                file.Seek(header.Length + soundBytes - last.Length, SeekOrigin.Begin);
                file.Write(last);
                file.Write(behind);
            },
            Words: null)
        {
            Huge = new(soundBytes / frameBytes, header.Length, last),
        };
    }
}
