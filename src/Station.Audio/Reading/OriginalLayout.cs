using Microsoft.Win32.SafeHandles;

namespace Station.Audio.Reading;

/// <summary>
/// How the dropped file divides into what precedes the sound, the words of the whole frames, and what follows them; the three
/// parts put together are the file, byte for byte (words that were reversed reversed back). A FLAC is kept whole instead.
/// </summary>
/// <remarks>Ranges, not content: a hostile header may be gigabytes long.</remarks>
public sealed record OriginalLayout
{
    /// <summary>The file itself is the master; the other values are 0.</summary>
    public bool WholeFileIsMaster { get; init; }

    /// <summary>Bytes in front of the first sample.</summary>
    public long HeaderBytes { get; init; }

    /// <summary>Bytes of the whole frames.</summary>
    public long WordBytes { get; init; }

    /// <summary>
    /// Bytes of one word when the file stores its words most significant byte first, so that each word's bytes must be reversed to get
    /// the file's own from those handed on; 0 when they are handed on as they stand.
    /// </summary>
    public int ReversedWordBytes { get; init; }

    /// <summary>Where the whole frames end.</summary>
    public long TrailerOffset => HeaderBytes + WordBytes;

    /// <summary>Bytes behind the last whole frame: part of a frame, chunks, anything.</summary>
    public long TrailerBytes { get; init; }

    /// <summary>Copies the bytes in front of the first sample, in blocks.</summary>
    /// <exception cref="IOException">Reading or writing failed, or the file became shorter.</exception>
    public void CopyHeader(SafeFileHandle file, Stream output) => Copy(file, 0, HeaderBytes, output);

    /// <summary>Copies the bytes behind the last whole frame, in blocks.</summary>
    /// <exception cref="IOException">Reading or writing failed, or the file became shorter.</exception>
    public void CopyTrailer(SafeFileHandle file, Stream output) => Copy(file, TrailerOffset, TrailerBytes, output);

    private static void Copy(SafeFileHandle file, long offset, long count, Stream output)
    {
        ArgumentNullException.ThrowIfNull(output);
        FileBytes.Pass(file, offset, count, output.Write);
    }
}
