using Microsoft.Win32.SafeHandles;
using Station.Audio.Encoding;

namespace Station.Audio.Reading;

/// <summary>Reads one capture from its first frame to its last, in blocks, with memory that does not grow with its length.</summary>
/// <remarks>
/// <para>Used by one thread at a time. A reader for FLAC runs a child process until the end is read or it is disposed.</para>
/// <para>
/// The byte sink given to <see cref="Open"/> receives every byte of the file exactly once, in file order, and has received all of
/// them when <see cref="Read"/> returns an empty block, repaired files included. It is never called inside <see cref="Open"/>. For
/// the PCM containers it is called on the thread that calls <see cref="Read"/>; for FLAC on a thread of the reader's own, one call at
/// a time, concurrently with the caller's work between two reads, and never after the empty block or after <see cref="Dispose()"/> returned.
/// What the sink throws comes out of <see cref="Read"/>.
/// </para>
/// </remarks>
public abstract class CaptureReader : IDisposable
{
    /// <summary>Most frames in one block.</summary>
    public const int MaxBlockFrames = 16 * 1024;

    private protected CaptureReader(CaptureFormat format, OriginalLayout layout)
    {
        Format = format;
        Layout = layout;
    }

    /// <summary>What the container says, after it was compared with the file.</summary>
    public CaptureFormat Format { get; }

    /// <summary>What had to be assumed. Complete after the end was read.</summary>
    public abstract IReadOnlyList<CaptureRepair> Repairs { get; }

    /// <summary>Where the sound lies in the file.</summary>
    public OriginalLayout Layout { get; }

    /// <summary>What a Broadcast Wave file says about itself; null without a bext chunk.</summary>
    public virtual BroadcastExtension? Broadcast => null;

    /// <summary>Opens a capture by its content; its name is used in messages only.</summary>
    /// <param name="file">A regular file open for reading. It stays the caller's and must stay open until the reader is disposed.</param>
    /// <param name="displayName">The name for messages.</param>
    /// <param name="limits">What is taken at most.</param>
    /// <param name="codecs">Where the FLAC decoder is.</param>
    /// <param name="fileBytes">Gets every byte of the file once, in file order: a hash of the file costs no second read.</param>
    /// <returns>A reader, or the refusal for everything the header shows.</returns>
    /// <exception cref="IOException">Reading failed.</exception>
    public static CaptureOpening Open(
        SafeFileHandle file, string displayName, ReaderLimits limits, CodecTools codecs, ByteSink? fileBytes = null)
    {
        ArgumentNullException.ThrowIfNull(file);
        ArgumentNullException.ThrowIfNull(displayName);
        ArgumentNullException.ThrowIfNull(limits);
        ArgumentNullException.ThrowIfNull(codecs);
        return CaptureOpener.Open(file, displayName, limits, codecs, fileBytes);
    }

    /// <summary>The next frames.</summary>
    /// <returns>At most <see cref="MaxBlockFrames"/> frames, valid until the next call; empty at the end and from then on.</returns>
    /// <exception cref="CaptureRefusedException">The sound does not decode whole, does not match its own checksum, or is longer than the limit.</exception>
    /// <exception cref="IOException">Reading failed, or the file changed its length while it was read.</exception>
    public abstract CaptureBlock Read();

    /// <summary>Ends the child process, if one runs. The file handle stays open.</summary>
    public void Dispose()
    {
        Dispose(disposing: true);
        GC.SuppressFinalize(this);
    }

    /// <summary>Releases what the reader holds.</summary>
    protected abstract void Dispose(bool disposing);
}
