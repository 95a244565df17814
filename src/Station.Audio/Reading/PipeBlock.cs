namespace Station.Audio.Reading;

/// <summary>Gathers small pieces into large writes: a frame of silence has a dozen bytes, a call of the system costs more than that.</summary>
internal sealed class PipeBlock(int bytes, ByteSink output)
{
    private readonly byte[] _block = GC.AllocateUninitializedArray<byte>(bytes);
    private int _count;

    /// <summary>Adds a piece, in order.</summary>
    public void Add(ReadOnlySpan<byte> piece)
    {
        if (piece.Length > _block.Length - _count)
        {
            Flush();
        }

        if (piece.Length > _block.Length)
        {
            output(piece);
            return;
        }

        piece.CopyTo(_block.AsSpan(_count));
        _count += piece.Length;
    }

    /// <summary>Writes what is gathered.</summary>
    public void Flush()
    {
        if (_count > 0)
        {
            output(_block.AsSpan(0, _count));
            _count = 0;
        }
    }
}
