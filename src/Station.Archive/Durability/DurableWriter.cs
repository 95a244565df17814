using System.Buffers;
using Microsoft.Win32.SafeHandles;

namespace Station.Archive.Durability;

/// <summary>
/// A new file on its way to disk: write to <see cref="Stream"/>, then <see cref="Finish"/> checks the length, syncs and closes, each checked.
/// Not finished means: the file is no good, the owner deletes it.
/// </summary>
internal sealed class DurableWriter : IDisposable
{
    private const int BufferBytes = 256 * 1024;

    private readonly string _path;
    private readonly SafeFileHandle _file;
    private byte[]? _buffer = ArrayPool<byte>.Shared.Rent(BufferBytes);
    private int _buffered;
    private int _flushes;

    private DurableWriter(string path, SafeFileHandle file)
    {
        _path = path;
        _file = file;
        Stream = new WriterStream(this);
    }

    /// <summary>Write-only, not seekable. Closing it does not close the file.</summary>
    public Stream Stream { get; }

    /// <summary>Bytes accepted so far, in the buffer or written.</summary>
    public long Bytes { get; private set; }

    /// <summary>Creates the file, which must not exist.</summary>
    /// <param name="path">New name; a link in its place is refused.</param>
    /// <param name="mode">Permission bits, less the umask.</param>
    public static DurableWriter CreateNew(string path, int mode = FileModes.NewFile) =>
        new(path, Posix.Open(path, Posix.WriteOnly | Posix.Create | Posix.Exclusive | Posix.NoFollow, mode));

    /// <summary>For a file that is open already, at its end.</summary>
    public static DurableWriter Over(string path, SafeFileHandle file) => new(path, file);

    public void Write(ReadOnlySpan<byte> bytes)
    {
        byte[] buffer = _buffer ?? throw new ObjectDisposedException(nameof(DurableWriter));
        Bytes += bytes.Length;
        if (bytes.Length >= BufferBytes)
        {
            Flush();
            Put(bytes);
            return;
        }

        while (!bytes.IsEmpty)
        {
            int count = Math.Min(bytes.Length, BufferBytes - _buffered);
            bytes[..count].CopyTo(buffer.AsSpan(_buffered));
            _buffered += count;
            bytes = bytes[count..];
            if (_buffered == BufferBytes)
            {
                Flush();
            }
        }
    }

    public void Flush()
    {
        if (_buffered > 0 && _buffer is { } buffer)
        {
            Put(buffer.AsSpan(0, _buffered));
            _buffered = 0;
        }
    }

    /// <summary>Permission bits of the finished file: those it has, less the ones that allow writing.</summary>
    public void MakeReadOnly()
    {
        Flush();
        Posix.ChangeMode(_file, FileModes.WithoutWriting(PosixStat.Look(_file, _path).Mode), _path);
    }

    /// <summary>Sets the permission bits.</summary>
    public void SetMode(int mode) => Posix.ChangeMode(_file, mode, _path);

    /// <summary>Sets the time of the last change of content.</summary>
    public void SetModified(DateTime utc) => File.SetLastWriteTimeUtc(_file, utc);

    /// <summary>Flush, length check, fsync, close.</summary>
    /// <exception cref="PosixException">Any of them failed: discard the file, never sync it again.</exception>
    public void Finish()
    {
        Flush();
        long found = PosixStat.Look(_file, _path).Identity.Bytes;
        if (found != Bytes)
        {
            throw new IOException($"{PathText.Printable(_path)}: expected {Bytes} bytes after writing, found {found}");
        }

        Posix.Fsync(_file, _path);
        Posix.Close(_file, _path);
    }

    public void Dispose()
    {
        _file.Dispose();
        if (_buffer is { } buffer)
        {
            _buffer = null;
            ArrayPool<byte>.Shared.Return(buffer);
        }
    }

    private void Put(ReadOnlySpan<byte> bytes)
    {
        // The second point stands for "died with the file half written"; more of them would add nothing but time.
        if (_flushes++ < 2)
        {
            CrashPoints.Reached("write");
        }

        Posix.WriteAll(_file, bytes, _path);
    }

    private sealed class WriterStream(DurableWriter owner) : Stream
    {
        public override bool CanRead => false;

        public override bool CanSeek => false;

        public override bool CanWrite => true;

        public override long Length => owner.Bytes;

        public override long Position
        {
            get => owner.Bytes;
            set => throw new NotSupportedException();
        }

        public override void Flush() => owner.Flush();

        public override void Write(byte[] buffer, int offset, int count) => owner.Write(buffer.AsSpan(offset, count));

        public override void Write(ReadOnlySpan<byte> buffer) => owner.Write(buffer);

        public override void WriteByte(byte value) => owner.Write([value]);

        public override int Read(byte[] buffer, int offset, int count) => throw new NotSupportedException();

        public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

        public override void SetLength(long value) => throw new NotSupportedException();
    }
}
