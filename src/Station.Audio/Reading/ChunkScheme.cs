using Microsoft.Win32.SafeHandles;

namespace Station.Audio.Reading;

/// <summary>How a family of containers writes its chunks, and the questions one asks of a place in such a file: is this a chunk, do chunks lead from here to the end?</summary>
internal abstract class ChunkScheme(SafeFileHandle file, long fileLength)
{
    /// <summary>Longest header of any scheme.</summary>
    private const int MaxHeaderBytes = 24;

    /// <summary>Where chunks behind a sound of unknown length are looked for: tag chunks of one picture fit.</summary>
    private const int TailBytes = 256 * 1024;

    /// <summary>Chunk headers read for all questions about chains together: thousands of empty chunks must not be walked thousands of times.</summary>
    private int _chainReadsLeft = 200_000;

    /// <summary>Bytes of identifier and size.</summary>
    public abstract int HeaderBytes { get; }

    /// <summary>Where the size stands in the header.</summary>
    public abstract int SizeAt { get; }

    /// <summary>Content is padded to a multiple of this.</summary>
    public abstract int Alignment { get; }

    /// <summary>Takes a header apart.</summary>
    /// <param name="header"><see cref="HeaderBytes"/> bytes.</param>
    protected abstract ChunkHeader Decode(ReadOnlySpan<byte> header);

    /// <summary>True for chunks that are found in such files: the names a place is recognised by when the chain is broken.</summary>
    public abstract bool IsKnown(uint id);

    /// <summary>Padding behind a content of this length.</summary>
    public int PadAfter(long bytes) => (int)(-bytes & (Alignment - 1));

    /// <summary>Reads a chunk header.</summary>
    /// <returns>False when not enough bytes for one are left.</returns>
    public bool TryRead(long offset, out ChunkHeader chunk)
    {
        Span<byte> header = stackalloc byte[MaxHeaderBytes];
        header = header[..HeaderBytes];
        chunk = default;
        if (offset < 0 || offset > fileLength - HeaderBytes)
        {
            return false;
        }

        FileBytes.ReadExactly(file, offset, header);
        chunk = Decode(header);
        return true;
    }

    /// <summary>True when one or more chunks lead from here exactly to the end of the file.</summary>
    public bool ChainsToEnd(long offset)
    {
        while (_chainReadsLeft-- > 0 && TryRead(offset, out ChunkHeader chunk) && chunk.IsChunk)
        {
            long left = fileLength - offset - HeaderBytes - chunk.Bytes;
            if (chunk.Bytes < 0 || left < 0)
            {
                return false;
            }

            if (left <= PadAfter(chunk.Bytes))
            {
                return true;
            }

            offset = fileLength - left + PadAfter(chunk.Bytes);
        }

        return false;
    }

    /// <summary>Looks near the end of the file for known chunks that lead exactly to its end.</summary>
    /// <param name="from">Nothing before this offset is a candidate.</param>
    /// <returns>Offset of the first such chunk, or the end of the file.</returns>
    public long FindTail(long from)
    {
        long start = Math.Max(from, fileLength - TailBytes);
        int length = (int)Math.Max(0, fileLength - start);
        byte[] tail = new byte[length];
        FileBytes.ReadExactly(file, start, tail);

        // Backwards, so that whether a place leads to the end is known of every later place already: one look at each byte.
        bool[] leads = new bool[length];
        int first = -1;
        for (int i = length - HeaderBytes; i >= 0; i--)
        {
            ChunkHeader chunk = Decode(tail.AsSpan(i, HeaderBytes));
            long left = length - i - HeaderBytes - chunk.Bytes;
            if (!chunk.IsChunk || chunk.Bytes < 0 || left < 0)
            {
                continue;
            }

            int pad = PadAfter(chunk.Bytes);
            leads[i] = left <= pad || leads[length - left + pad];
            if (leads[i] && IsKnown(chunk.Id))
            {
                first = i;
            }
        }

        return first < 0 ? fileLength : start + first;
    }
}
