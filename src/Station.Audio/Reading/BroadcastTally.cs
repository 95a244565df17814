namespace Station.Audio.Reading;

/// <summary>Reads the <c>bext</c> chunks a walk comes by. The first one counts; nothing in them can stop a capture.</summary>
internal sealed class BroadcastTally(PcmSource source)
{
    private byte[]? _first;
    private BroadcastExtension? _broadcast;

    /// <summary>What a repair is told to.</summary>
    public delegate void Remark(string code, long offset, bool soundInDoubt, FormattableString message, long? frame);

    public static uint ChunkId { get; } = ChunkHeader.Letters("bext"u8);

    /// <returns>The content of the first chunk.</returns>
    public BroadcastExtension? Take(long content, long length, Remark remark)
    {
        byte[] bytes = new byte[Math.Min(length, BroadcastChunk.FixedBytes + BroadcastChunk.MaxHistoryBytes)];
        FileBytes.ReadExactly(source.File, content, bytes, source.Name);
        if (_first is not null)
        {
            if (!bytes.AsSpan().SequenceEqual(_first))
            {
                remark(CaptureRepair.Damaged, content, false, $"There is a second bext chunk that differs from the first; the first is reported. The sound does not depend on it.", null);
            }

            return _broadcast;
        }

        if (length < BroadcastChunk.FixedBytes)
        {
            remark(
                CaptureRepair.Damaged,
                content,
                false,
                $"The bext chunk has {length} bytes of at least {BroadcastChunk.FixedBytes}: the fields it holds are reported. The sound does not depend on it.",
                null);
        }

        _first = bytes;
        return _broadcast = BroadcastChunk.Parse(bytes);
    }
}
