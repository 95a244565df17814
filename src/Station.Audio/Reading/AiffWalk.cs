using System.Buffers.Binary;

namespace Station.Audio.Reading;

/// <summary>AIFF and uncompressed AIFF-C.</summary>
/// <remarks>Apple "Audio Interchange File Format" 1.3 (1989) and "AIFF-C" draft (1991), both second-hand; EA IFF 85 for the chunks.</remarks>
internal sealed class AiffWalk(PcmSource source) : ContainerWalk(source, new IffScheme(source.File, source.Bytes))
{
    private bool _compressible;
    private long _blockBytes;
    private long _filledBytes; // offset, sound and filling: whole blocks, when there are blocks
    private bool _soundSeen;

    protected override string Container => _compressible ? "aifc" : "aiff";

    protected override uint FormatId { get; } = ChunkHeader.Letters("COMM"u8);

    protected override uint DataId { get; } = ChunkHeader.Letters("SSND"u8);

    protected override int FormBytes => 12;

    protected override int FormSizeAt => 4;

    protected override int UsedFormatBytes => AiffCommonChunk.PlainBytes;

    protected override bool SizesOverflow => true;

    /// <summary>Offset and block size.</summary>
    protected override int DataHeaderBytes => 8;

    protected override CaptureRefusal? ReadForm()
    {
        Span<byte> form = stackalloc byte[FormBytes];
        FileBytes.ReadExactly(Source.File, 0, form, Source.Name); // the opener saw the form type
        _compressible = form[8..].SequenceEqual("AIFC"u8);
        uint size = BinaryPrimitives.ReadUInt32BigEndian(form[4..]);
        FormEnd = size is 0 or uint.MaxValue ? -1 : size + 8L;
        return null;
    }

    protected override CaptureRefusal? ParseFormat(long content, long length, out StoredFormat? format)
    {
        Span<byte> buffer = stackalloc byte[AiffCommonChunk.UsedBytes];
        Span<byte> fields = buffer[..(int)Math.Min(buffer.Length, length)];
        FileBytes.ReadExactly(Source.File, content, fields, Source.Name);
        return AiffCommonChunk.Parse(fields, length, _compressible, content, Source, out format);
    }

    protected override long StatedDataBytes(in ChunkHeader chunk, out bool placeholder)
    {
        placeholder = chunk.Bytes == uint.MaxValue;
        return chunk.Bytes;
    }

    protected override long DataPrefix(long content, long chunkBytes)
    {
        if (chunkBytes < DataHeaderBytes)
        {
            return chunkBytes;
        }

        Span<byte> fields = stackalloc byte[DataHeaderBytes];
        FileBytes.ReadExactly(Source.File, content, fields, Source.Name);
        long offset = BinaryPrimitives.ReadUInt32BigEndian(fields);
        if (!_soundSeen)
        {
            (_soundSeen, _blockBytes, _filledBytes) =
                (true, BinaryPrimitives.ReadUInt32BigEndian(fields[4..]), chunkBytes - DataHeaderBytes);
        }

        if (offset > chunkBytes - DataHeaderBytes)
        {
            Repair(
                CaptureRepair.Damaged, content, true, $"The SSND chunk says that the sound begins {offset} bytes further on, which is beyond its end: read from the chunk's start.");
            return DataHeaderBytes;
        }

        return DataHeaderBytes + offset;
    }

    protected override long Reconcile(long frames, DataEnd end, long sizeAt)
    {
        if (end != DataEnd.AsStated || Format.StatedFrames is not { } stated || stated == frames)
        {
            return frames;
        }

        int frameBytes = Format.Channels * Format.WordBytes;
        if (stated > 0 && stated < frames && (frames - stated) * frameBytes < _blockBytes && _filledBytes % _blockBytes == 0)
        {
            return stated; // the last block is filled up
        }

        if (stated < frames)
        {
            Repair(
                CaptureRepair.Damaged, sizeAt, true, $"The COMM chunk states {stated} frames but the SSND chunk holds {frames}: all of them were read.", stated);
        }
        else
        {
            Repair(
                CaptureRepair.Truncated,
                sizeAt,
                true,
                $"The COMM chunk states {stated} frames ({(double)stated / Format.SampleRateHz:0.000} s) but the SSND chunk holds {frames} ({(double)frames / Format.SampleRateHz:0.000} s): the end may be missing. {frames} frames were read.",
                frames);
        }

        return frames;
    }

    protected override string Confirmation(long frames, out bool inDoubt)
    {
        inDoubt = Format.StatedFrames != frames;
        return Format.StatedFrames switch
        {
            { } stated when stated == frames => " The COMM chunk states the same number.",
            > 0 and var stated => Text($" The COMM chunk states {stated} frames."),
            _ => "",
        };
    }
}
