using System.Buffers.Binary;

namespace Station.Audio.Reading;

/// <summary>Wave64: the chunks of a WAV under GUIDs, with 64-bit sizes.</summary>
internal sealed class Wave64Walk(PcmSource source) : ContainerWalk(source, new Wave64Scheme(source.File, source.Bytes))
{
    private const int GuidBytes = 16;

    private readonly BroadcastTally _broadcast = new(source);

    protected override string Container => "w64";

    protected override uint FormatId { get; } = ChunkHeader.Letters("fmt "u8);

    protected override uint DataId { get; } = ChunkHeader.Letters("data"u8);

    protected override int FormBytes => 40;

    protected override int FormSizeAt => GuidBytes;

    protected override int UsedFormatBytes => WaveFormatChunk.UsedBytes;

    protected override bool SizesOverflow => false;

    protected override CaptureRefusal? ReadForm()
    {
        Span<byte> form = stackalloc byte[FormBytes];
        int got = FileBytes.ReadUpTo(Source.File, 0, form);
        if (got < FormBytes)
        {
            return Bad(got, "a Wave64 header of 40 bytes", $"the end after {got} bytes");
        }

        ReadOnlySpan<byte> type = form[24..];
        if (!type.StartsWith("wave"u8) || !type[4..].SequenceEqual(Wave64Scheme.Family))
        {
            return new(
                RefusalKind.Unsupported,
                Source.Name,
                24,
                "the form type wave",
                $"GUID {Convert.ToHexString(type)}",
                "This is a Wave64 file, but not of sound. Record or save it as WAV or FLAC.");
        }

        long size = BinaryPrimitives.ReadInt64LittleEndian(form[FormSizeAt..]);
        FormEnd = size <= 0 ? -1 : size;
        return null;
    }

    protected override CaptureRefusal? ParseFormat(long content, long length, out StoredFormat? format) =>
        WaveFormatChunk.Read(Source, content, length, out format);

    protected override void TakeOther(in ChunkHeader chunk, long content)
    {
        if (chunk.Id == BroadcastTally.ChunkId)
        {
            Broadcast = _broadcast.Take(content, chunk.Bytes, Repair);
        }
    }

    /// <summary>A size of nothing, of less than the header, or of all ones is left by a recorder that never came back to it.</summary>
    protected override long StatedDataBytes(in ChunkHeader chunk, out bool placeholder)
    {
        placeholder = false;
        return Math.Max(0, chunk.Bytes);
    }
}
