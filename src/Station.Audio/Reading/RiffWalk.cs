using System.Buffers.Binary;

namespace Station.Audio.Reading;

/// <summary>WAV, RF64 and BW64.</summary>
/// <remarks>
/// RIFF: IBM/Microsoft "Multimedia Programming Interface and Data Specifications 1.0" (1991); RF64: EBU Tech 3306; BW64: ITU-R BS.2088.
/// The count of samples in ds64 and fact is not used: BW64 writes 0, and writers disagree on frames or samples.
/// </remarks>
internal sealed class RiffWalk(PcmSource source) : ContainerWalk(source, new RiffScheme(source.File, source.Bytes))
{
    private static readonly uint Ds64Id = ChunkHeader.Letters("ds64"u8);

    private readonly BroadcastTally _broadcast = new(source);
    private string _container = "wav";
    private bool _hasDs64;
    private long _ds64Data;
    private long _ds64At;

    protected override string Container => _container;

    protected override uint FormatId { get; } = ChunkHeader.Letters("fmt "u8);

    protected override uint DataId { get; } = ChunkHeader.Letters("data"u8);

    protected override int FormBytes => 12;

    protected override int FormSizeAt => 4;

    protected override int UsedFormatBytes => WaveFormatChunk.UsedBytes;

    protected override bool SizesOverflow => _container == "wav";

    protected override CaptureRefusal? ReadForm()
    {
        Span<byte> form = stackalloc byte[FormBytes];
        int got = FileBytes.ReadUpTo(Source.File, 0, form);
        if (got < FormBytes)
        {
            return Bad(got, "a RIFF header of 12 bytes", $"the end after {got} bytes");
        }

        if (!form[8..].SequenceEqual("WAVE"u8))
        {
            return new(
                RefusalKind.Unsupported,
                Source.Name,
                8,
                "the form type WAVE",
                $"{(form[8..].ContainsAnyExceptInRange((byte)0x20, (byte)0x7E) ? Convert.ToHexString(form[8..]) : $"'{System.Text.Encoding.ASCII.GetString(form[8..])}'")}",
                "This is a RIFF file, but not of sound. Record or save it as WAV or FLAC.");
        }

        _container = form.StartsWith("RF64"u8) ? "rf64" : form.StartsWith("BW64"u8) ? "bw64" : "wav";
        uint size = BinaryPrimitives.ReadUInt32LittleEndian(form[4..]);
        FormEnd = size is 0 or RiffScheme.Placeholder ? -1 : size + 8L;
        return null;
    }

    protected override CaptureRefusal? ParseFormat(long content, long length, out StoredFormat? format) =>
        WaveFormatChunk.Read(Source, content, length, out format);

    protected override void TakeOther(in ChunkHeader chunk, long content)
    {
        if (chunk.Id == Ds64Id)
        {
            TakeDs64(content, chunk.Bytes);
        }
        else if (chunk.Id == BroadcastTally.ChunkId)
        {
            Broadcast = _broadcast.Take(content, chunk.Bytes, Repair);
        }
    }

    protected override long StatedDataBytes(in ChunkHeader chunk, out bool placeholder)
    {
        bool elsewhere = chunk.Bytes == RiffScheme.Placeholder;
        placeholder = elsewhere && (!_hasDs64 || _ds64Data == 0);
        return !elsewhere || !_hasDs64 ? chunk.Bytes : _ds64Data < 0 ? long.MaxValue : _ds64Data;
    }

    /// <summary>ITU-R BS.2088-2 §2.4 (second-hand): only 0xFFFFFFFF means "look in ds64"; a size that is stated twice and differs is told.</summary>
    protected override long Reconcile(long frames, DataEnd end, long sizeAt)
    {
        if (_container != "wav" && end == DataEnd.AsStated)
        {
            Span<byte> field = stackalloc byte[4];
            FileBytes.ReadExactly(Source.File, sizeAt, field, Source.Name);
            uint stated = BinaryPrimitives.ReadUInt32LittleEndian(field);
            if (!_hasDs64)
            {
                Repair(CaptureRepair.Damaged, FormBytes, false, $"There is no ds64 chunk; the data chunk states {stated} bytes itself, which agree with the file.");
            }
            else if (stated != RiffScheme.Placeholder && _ds64Data != 0 && _ds64Data != stated)
            {
                Repair(
                    CaptureRepair.Damaged,
                    _ds64At + 8,
                    false,
                    $"The ds64 chunk states {_ds64Data} bytes of sound and the data chunk {stated}, which agree with the file: the latter were read.");
            }
        }

        return frames;
    }

    private void TakeDs64(long content, long length)
    {
        // Table entries give sizes of other chunks beyond 4 GiB; none of those is needed, and one such chunk ends the walk as one past the end.
        Span<byte> fields = stackalloc byte[16];
        if (_hasDs64 || length < fields.Length)
        {
            return;
        }

        FileBytes.ReadExactly(Source.File, content, fields, Source.Name);
        _hasDs64 = true;
        _ds64At = content;
        long form = BinaryPrimitives.ReadInt64LittleEndian(fields);
        _ds64Data = BinaryPrimitives.ReadInt64LittleEndian(fields[8..]);
        if (FormEnd < 0 && form is > 0 and <= long.MaxValue - 8)
        {
            FormEnd = form + 8;
        }
    }
}
