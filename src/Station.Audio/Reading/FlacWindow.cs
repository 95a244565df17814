using Microsoft.Win32.SafeHandles;

namespace Station.Audio.Reading;

/// <summary>
/// A stretch of a file in memory, moved forward as it is read. Every byte goes to the sink once, in file order, when it is read
/// for the first time; going back costs a second read but no second call.
/// </summary>
internal sealed class FlacWindow(SafeFileHandle file, long length, string name, ByteSink? sink, CancellationToken stop)
{
    /// <summary>Bytes read at a time.</summary>
    private const int ChunkBytes = 64 * 1024;

    private byte[] _buffer = GC.AllocateUninitializedArray<byte>(4 * ChunkBytes);
    private long _start;   // of the valid bytes, in the file
    private int _at;       // and in the buffer
    private int _count;
    private long _seen;
    private long _read;

    /// <summary>For tests of its bounds: the memory it holds, and what it read of the file in all.</summary>
    internal (int Held, long Read) Bytes => (_buffer.Length, _read);

    /// <summary>Bytes of the file.</summary>
    public long Length => length;

    /// <summary>Where the valid bytes end, in the file.</summary>
    public long End => _start + _count;

    /// <summary>The valid bytes from an offset on.</summary>
    public ReadOnlySpan<byte> From(long offset) => _buffer.AsSpan(_at, _count)[(int)(offset - _start)..];

    /// <summary>Valid bytes between two offsets.</summary>
    public ReadOnlySpan<byte> Slice(long from, long to) => From(from)[..(int)(to - from)];

    /// <summary>Reads on.</summary>
    /// <returns>False at the end of the file.</returns>
    /// <exception cref="IOException">The file became shorter.</exception>
    /// <exception cref="OperationCanceledException">It was stopped.</exception>
    public bool Extend()
    {
        stop.ThrowIfCancellationRequested();
        int want = (int)Math.Min(ChunkBytes, length - End);
        if (want <= 0)
        {
            return false;
        }

        if (_at + _count + want > _buffer.Length)
        {
            byte[] target = _count + want > _buffer.Length / 2 ? GC.AllocateUninitializedArray<byte>(2 * _buffer.Length) : _buffer;
            _buffer.AsSpan(_at, _count).CopyTo(target);
            (_buffer, _at) = (target, 0);
        }

        Span<byte> part = _buffer.AsSpan(_at + _count, want);
        FileBytes.ReadExactly(file, End, part, name);
        long fresh = End + want - _seen;
        if (fresh > 0)
        {
            sink?.Invoke(part[(int)(want - Math.Min(want, fresh))..]);
            _seen = End + want;
        }

        _count += want;
        _read += want;
        return true;
    }

    /// <summary>Forgets what lies in front of an offset.</summary>
    public void Drop(long before)
    {
        int drop = (int)Math.Clamp(before - _start, 0, _count);
        _start += drop;
        _at += drop;
        _count -= drop;
    }

    /// <summary>Makes an offset the first valid byte, by reading on or by going back.</summary>
    public void MoveTo(long offset)
    {
        if (offset < _start)
        {
            (_start, _at, _count) = (offset, 0, 0);
            return;
        }

        while (true)
        {
            Drop(offset);
            if (_start >= offset || !Extend())
            {
                return;
            }
        }
    }
}
