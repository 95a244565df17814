namespace Station.Audio.Tests.Reading;

/// <summary>One file of a row of docs/formats/captures.md.</summary>
/// <param name="Write">Makes the file.</param>
/// <param name="Words">The little-endian words that must be read; null for a file that is refused or only looked at.</param>
internal sealed record CaptureCase(Action<string> Write, byte[]? Words)
{
    /// <summary>ffmpeg's name for the raw form the sound is decoded to and compared in; null where ffmpeg reads the form otherwise.</summary>
    public string? Oracle { get; init; }

    /// <summary>A file of gigabytes: header and last block are looked at, the rest is not read.</summary>
    public HugeFile? Huge { get; init; }

    public static CaptureCase Of(byte[] file, byte[]? words = null, string? oracle = null) =>
        new(path => File.WriteAllBytes(path, file), words) { Oracle = oracle };
}

/// <summary>What must be found in a file too large to be read in a test.</summary>
/// <param name="Frames">Whole frames.</param>
/// <param name="HeaderBytes">Bytes before the sound.</param>
/// <param name="LastBytes">The last bytes of the sound.</param>
internal sealed record HugeFile(long Frames, long HeaderBytes, byte[] LastBytes);
