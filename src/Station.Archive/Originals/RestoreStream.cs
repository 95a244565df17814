using System.Globalization;
using System.Security.Cryptography;

namespace Station.Archive.Originals;

/// <summary>Passes bytes on, hashes them, and holds every part to the length the recipe gives: a runaway decoder cannot fill the disk.
/// Closing it does nothing, since a decoder may close what it was given before the last part.</summary>
internal sealed class RestoreStream(Stream output, IncrementalHash hash, string bag) : Stream
{
    private readonly WordReverser _reverser = new();
    private RestorePart? _part;
    private long _partBytes;
    private long _bytes;

    public override bool CanRead => false;

    public override bool CanSeek => false;

    public override bool CanWrite => true;

    public override long Length => _bytes;

    public override long Position
    {
        get => _bytes;
        set => throw new NotSupportedException();
    }

    public void Begin(RestorePart part)
    {
        _part = part;
        _partBytes = 0;
        if (part.ReversedWordBytes != 0)
        {
            _reverser.Begin(part.ReversedWordBytes);
        }
    }

    /// <exception cref="RestoreMismatchException">The part is shorter than it should be.</exception>
    public void End()
    {
        if (_part is { } part && _partBytes != part.Bytes)
        {
            throw Mismatch(part, string.Create(CultureInfo.InvariantCulture, $"{_partBytes}"));
        }

        _part = null;
    }

    public override void Write(ReadOnlySpan<byte> buffer)
    {
        RestorePart part = _part ?? throw new InvalidOperationException("Nothing more was asked of this decoder.");
        if (buffer.Length > part.Bytes - _partBytes)
        {
            throw Mismatch(part, "more");
        }

        _partBytes += buffer.Length;
        if (part.ReversedWordBytes == 0)
        {
            Pass(buffer);
            return;
        }

        // The recipe's rules make a part whole words, so nothing is kept back once the part has its length.
        while (!buffer.IsEmpty)
        {
            Pass(_reverser.Take(ref buffer));
        }
    }

    public override void Write(byte[] buffer, int offset, int count) => Write(buffer.AsSpan(offset, count));

    public override void Flush() => output.Flush();

    public override int Read(byte[] buffer, int offset, int count) => throw new NotSupportedException();

    public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

    public override void SetLength(long value) => throw new NotSupportedException();

    private void Pass(ReadOnlySpan<byte> bytes)
    {
        hash.AppendData(bytes);
        output.Write(bytes);
        _bytes += bytes.Length;
    }

    private RestoreMismatchException Mismatch(RestorePart part, string found) =>
        new(bag, part.File, string.Create(CultureInfo.InvariantCulture, $"{part.Bytes} bytes"), found);
}
