using System.Buffers.Binary;
using Microsoft.Win32.SafeHandles;

namespace Station.Audio.Reading;

/// <summary>
/// Walks the chunks of a WAV, RF64 or BW64 file and decides where the sound lies. Every stated length is compared with the file
/// before it is used, none is allocated by, and whatever had to be assumed becomes a repair.
/// </summary>
/// <remarks>
/// RIFF: IBM/Microsoft "Multimedia Programming Interface and Data Specifications 1.0" (1991); RF64: EBU Tech 3306; BW64: ITU-R BS.2088.
/// The count of samples in ds64 and fact is not used: BW64 writes 0, and writers disagree on frames or samples.
/// </remarks>
internal sealed class RiffWalk
{
    /// <summary>More chunks than any writer makes; a file of empty chunks must not cost minutes.</summary>
    private const int MaxChunks = 65_536;

    private const int FormBytes = 12;
    private const string CopyAgainAdvice = "Copy the file again from the recorder, or play the side again.";

    private static readonly uint FmtId = RiffChunks.Id("fmt ");
    private static readonly uint DataId = RiffChunks.Id("data");
    private static readonly uint Ds64Id = RiffChunks.Id("ds64");

    private readonly SafeFileHandle _file;
    private readonly long _fileLength;
    private readonly string _name;
    private readonly ReaderLimits _limits;
    private readonly RiffChunks _chunks;
    private readonly List<CaptureRepair> _repairs = [];

    private string _container = "wav";
    private long _formBytes; // as stated in the header or in ds64; -1 unknown
    private bool _hasDs64;
    private long _ds64Data;
    private WaveFormatChunk? _format;
    private long _dataOffset = -1;
    private long _dataBytes;
    private DataEnd _dataEnd;
    private long _statedDataBytes;
    private long _walkEnd; // end of the last chunk, without its pad
    private string? _stoppedBy;
    private bool _endExplained; // a repair says already why the size of the whole is wrong

    private RiffWalk(SafeFileHandle file, long fileLength, string name, ReaderLimits limits)
    {
        (_file, _fileLength, _name, _limits) = (file, fileLength, name, limits);
        _chunks = new RiffChunks(file, fileLength);
    }

    /// <summary>How the end of the data chunk was found.</summary>
    private enum DataEnd
    {
        AsStated,
        Cut,
        Unknown,
        Wrapped,
    }

    /// <summary>Walks the file.</summary>
    /// <returns>Null and a layout, or why not.</returns>
    public static CaptureRefusal? Run(SafeFileHandle file, long fileLength, string name, ReaderLimits limits, out WaveLayout? layout)
    {
        var walk = new RiffWalk(file, fileLength, name, limits);
        layout = null;
        return walk.ReadForm() ?? walk.ReadChunks() ?? walk.Conclude(out layout);
    }

    private static string Text(FormattableString text) => FormattableString.Invariant(text);

    private CaptureRefusal Bad(long offset, string expected, FormattableString found) =>
        new(RefusalKind.BadInput, _name, offset, expected, Text(found), CopyAgainAdvice);

    private void Repair(string code, long offset, bool soundInDoubt, FormattableString message, long? frame = null) =>
        _repairs.Add(new(code, Text(message), offset, frame) { SoundInDoubt = soundInDoubt });

    private CaptureRefusal? ReadForm()
    {
        Span<byte> form = stackalloc byte[FormBytes];
        int got = FileBytes.ReadUpTo(_file, 0, form);
        if (got < FormBytes)
        {
            return Bad(got, "a RIFF header of 12 bytes", $"the end after {got} bytes");
        }

        if (!form[8..].SequenceEqual("WAVE"u8))
        {
            return new(
                RefusalKind.Unsupported,
                _name,
                8,
                "the form type WAVE",
                $"{(form[8..].ContainsAnyExceptInRange((byte)0x20, (byte)0x7E) ? Convert.ToHexString(form[8..]) : System.Text.Encoding.ASCII.GetString(form[8..]))}",
                "This is a RIFF file, but not of sound. Record or save it as WAV or FLAC.");
        }

        _container = form.StartsWith("RF64"u8) ? "rf64" : form.StartsWith("BW64"u8) ? "bw64" : "wav";
        uint size = BinaryPrimitives.ReadUInt32LittleEndian(form[4..]);
        _formBytes = size is 0 or RiffChunks.Placeholder ? -1 : size;
        return null;
    }

    private CaptureRefusal? ReadChunks()
    {
        long offset = FormBytes;
        _walkEnd = offset;
        for (int count = 0; _chunks.TryRead(offset, out uint id, out uint size); count++)
        {
            if (count == MaxChunks)
            {
                return new(
                    RefusalKind.LimitReached, _name, offset, Text($"at most {MaxChunks} chunks"), "more", "No recorder writes such a file: record it again.");
            }

            if (!RiffChunks.IsPrintable(id))
            {
                _stoppedBy = Text($"bytes {id:X8} at byte {offset}, which are no chunk");
                break;
            }

            long content = offset + RiffChunks.HeaderBytes;
            long left = _fileLength - content;
            long length = size;
            if (id == DataId)
            {
                length = TakeData(offset, size, left);
            }
            else if (length > left)
            {
                _stoppedBy = Text($"chunk {RiffChunks.Name(id)} at byte {offset}, which states {length} bytes where {left} are left");
                if (id == FmtId && _format is null && left < WaveFormatChunk.UsedBytes)
                {
                    return Bad(content, Text($"a fmt chunk of {length} bytes"), $"{left} bytes to the end of the file");
                }

                // Behind the sound, an unknown name is more likely sound that an unfinished header does not count than a chunk.
                if (_dataOffset >= 0 && RiffChunks.IsKnown(id))
                {
                    Repair(CaptureRepair.Damaged, offset, false, $"Behind the sound, {_stoppedBy}: the file may have been cut there. The sound is whole.");
                    _endExplained = true;
                    _walkEnd = _fileLength;
                }

                break;
            }
            else if (id == Ds64Id)
            {
                TakeDs64(content, length);
            }
            else if (id == FmtId && TakeFormat(content, length) is { } refusal)
            {
                return refusal;
            }

            _walkEnd = content + length;
            offset = Next(_walkEnd, length, id);
        }

        return null;
    }

    /// <summary>Chunks begin at even offsets; a writer that leaves out the pad byte is noticed by what stands there.</summary>
    private long Next(long end, long length, uint id)
    {
        if ((length & 1) == 0)
        {
            return end;
        }

        long padded = end + 1;
        bool missing = _chunks.TryRead(end, out uint unpaddedId, out _) && RiffChunks.IsKnown(unpaddedId)
            && !(_chunks.TryRead(padded, out uint paddedId, out _) && RiffChunks.IsKnown(paddedId));
        if (missing)
        {
            Repair(CaptureRepair.Damaged, end, false, $"Chunk {RiffChunks.Name(id)} has an odd length but no pad byte; read without it.");
            return end;
        }

        return padded;
    }

    private void TakeDs64(long content, long length)
    {
        // Table entries give sizes of other chunks beyond 4 GiB; none of those is needed, and one such chunk ends the walk as one past the end.
        Span<byte> fields = stackalloc byte[16];
        if (_hasDs64 || length < fields.Length)
        {
            return;
        }

        FileBytes.ReadExactly(_file, content, fields);
        _hasDs64 = true;
        long form = BinaryPrimitives.ReadInt64LittleEndian(fields);
        _ds64Data = BinaryPrimitives.ReadInt64LittleEndian(fields[8..]);
        if (_formBytes < 0 && form > 0)
        {
            _formBytes = form;
        }
    }

    private CaptureRefusal? TakeFormat(long content, long length)
    {
        Span<byte> buffer = stackalloc byte[WaveFormatChunk.UsedBytes];
        Span<byte> fields = buffer[..(int)Math.Min(buffer.Length, length)];
        FileBytes.ReadExactly(_file, content, fields);
        CaptureRefusal? refusal = WaveFormatChunk.Parse(fields, length, content, _name, _limits, out WaveFormatChunk? format);
        if (_format is null)
        {
            _format = format;
            return refusal;
        }

        if (refusal is not null || _format != format)
        {
            Repair(CaptureRepair.Damaged, content, true, $"There is a second fmt chunk that differs from the first; the first was believed.");
        }

        return null;
    }

    /// <returns>Bytes of the chunk to walk over.</returns>
    private long TakeData(long offset, uint size, long left)
    {
        long content = offset + RiffChunks.HeaderBytes;
        bool unknown = size == 0 || (size == RiffChunks.Placeholder && (!_hasDs64 || _ds64Data == 0));
        long stated = size == RiffChunks.Placeholder && _hasDs64 ? (_ds64Data < 0 ? long.MaxValue : _ds64Data) : size;
        if (_dataOffset >= 0)
        {
            long second = unknown ? left : Math.Min(stated, left);
            if (second > 0)
            {
                Repair(CaptureRepair.Damaged, offset, true, $"There is a second data chunk of {second} bytes; only the first was taken as sound.");
            }

            return second;
        }

        if (unknown && (left == 0 || (size == 0 && _chunks.ChainsToEnd(content))))
        {
            return 0; // an empty chunk; another may hold the sound
        }

        _dataOffset = content;
        _statedDataBytes = stated;
        if (unknown)
        {
            _dataEnd = DataEnd.Unknown;
            _dataBytes = _chunks.FindTail(content) - content;
        }
        else if (stated > left)
        {
            // Chunks that lead exactly to the end show that nothing is missing: the size is a placeholder.
            _dataBytes = _chunks.FindTail(content) - content;
            _dataEnd = _dataBytes < left ? DataEnd.Unknown : DataEnd.Cut;
        }
        else
        {
            _dataBytes = stated;
            if (_container == "wav" && left - stated > uint.MaxValue && Unwrapped(content, stated) is { } whole)
            {
                _dataEnd = DataEnd.Wrapped;
                _dataBytes = whole;
            }
        }

        return _dataBytes;
    }

    /// <summary>A 32-bit size that overflowed: the true size is a multiple of 4 GiB more, and the file must agree with it.</summary>
    private long? Unwrapped(long content, long stated)
    {
        const long Wrap = 1L << 32;
        bool Agrees(long bytes)
        {
            long end = content + bytes + (bytes & 1);
            return end >= _fileLength || _chunks.ChainsToEnd(end);
        }

        if (Agrees(stated))
        {
            return null;
        }

        for (long bytes = stated + ((_fileLength - content - stated) / Wrap * Wrap); bytes > stated; bytes -= Wrap)
        {
            if (Agrees(bytes))
            {
                return bytes;
            }
        }

        return null;
    }

    private CaptureRefusal? Conclude(out WaveLayout? layout)
    {
        layout = null;
        string where = _stoppedBy is null ? "none up to the end of the file" : $"none up to {_stoppedBy}";
        if (_format is null)
        {
            return Bad(FormBytes, "a fmt chunk", $"{where}");
        }

        if (_dataOffset < 0)
        {
            return Bad(FormBytes, "a data chunk with sound", $"{where}");
        }

        int frameBytes = _format.Channels * WordBytes(_format.Words);
        long frames = _dataBytes / frameBytes;
        if (frames == 0)
        {
            return Bad(_dataOffset, Text($"at least one frame of {frameBytes} bytes"), $"{_dataBytes} bytes of sound");
        }

        long fmtRate = _format.SampleRateHz;
        if (FormatRules.Check(_name, _dataOffset - 4, fmtRate, _format.Channels, frames, _limits) is { } refusal)
        {
            return refusal;
        }

        if (_format.Contradiction is { } contradiction)
        {
            Repair(CaptureRepair.Damaged, FormBytes, true, $"{contradiction}");
        }

        DescribeData(frames, frameBytes);
        DescribeEnd();
        layout = new WaveLayout
        {
            Container = _container,
            Format = _format,
            DataOffset = _dataOffset,
            Frames = frames,
            Repairs = _repairs,
            EndAssumed = _dataEnd is DataEnd.Unknown or DataEnd.Cut,
        };
        return null;
    }

    private void DescribeData(long frames, int frameBytes)
    {
        double Seconds(long bytes) => (double)bytes / frameBytes / _format!.SampleRateHz;
        long partial = _dataBytes % frameBytes;
        string rest = partial == 0 ? "" : Text($" The last {partial} bytes are no whole frame and were left out of the sound.");
        long sizeAt = _dataOffset - 4;
        long end = _dataOffset + _dataBytes;
        switch (_dataEnd)
        {
            case DataEnd.Unknown:
                string until = end == _fileLength ? "the end of the file" : Text($"the chunk at byte {end}");
                string size = _statedDataBytes == RiffChunks.Placeholder ? "0xFFFFFFFF" : Text($"{_statedDataBytes}");
                Repair(
                    CaptureRepair.Damaged,
                    sizeAt,
                    true,
                    $"The header was never completed (data size {size}): everything up to {until} was taken as sound, {frames} frames ({Seconds(_dataBytes):0.000} s).{rest}");
                break;
            case DataEnd.Cut:
                // A recorder's placeholder such as 0x7FFFFFFF looks the same as a cut file, so the message must not be surer than the evidence.
                Repair(
                    CaptureRepair.Truncated,
                    sizeAt,
                    true,
                    $"The header states {_statedDataBytes} bytes of sound ({Seconds(_statedDataBytes):0.000} s) but the file ends after {_dataBytes} ({Seconds(_dataBytes):0.000} s): the end is missing, or the recorder never wrote the true size. {frames} frames were read.{rest}",
                    frames);
                break;
            case DataEnd.Wrapped:
                Repair(
                    CaptureRepair.Damaged,
                    sizeAt,
                    true,
                    $"The data size of {_statedDataBytes} bytes overflowed at 4 GiB: {_dataBytes} bytes were taken as sound, which is where the file's chunks go on.{rest}");
                break;
            default:
                if (partial != 0)
                {
                    Repair(CaptureRepair.Damaged, sizeAt, true, $"The data size of {_dataBytes} bytes is no whole number of frames of {frameBytes} bytes.{rest}", frames);
                }

                break;
        }
    }

    private void DescribeEnd()
    {
        long dataEnd = _dataOffset + _dataBytes;
        bool reachesEnd = dataEnd + 1 >= _fileLength;
        long junk = _fileLength - _walkEnd;
        if (!reachesEnd && junk > 1)
        {
            // Directly behind the data it may be sound that an unfinished header does not count: say how long that would be.
            bool maybeSound = _walkEnd == dataEnd;
            string left = maybeSound
                ? "; if the header was never completed they may be sound, but they were not read as such"
                : "";
            _endExplained = true;
            Repair(CaptureRepair.Damaged, _walkEnd, maybeSound, $"{junk} bytes at the end of the file are no chunk{left}. They are kept with the original.");
        }

        if (_endExplained || _dataEnd != DataEnd.AsStated)
        {
            return;
        }

        long formEnd = _formBytes < 0 ? -1 : _formBytes + 8;
        if (formEnd < 0)
        {
            Repair(CaptureRepair.Damaged, 4, false, $"The header does not state the size of the file; the chunks agree with the file, so the sound is whole.");
        }
        else if (Math.Abs(formEnd - _walkEnd) > 1 && Math.Abs(formEnd - _fileLength) > 1)
        {
            Repair(
                CaptureRepair.Damaged, 4, false, $"The header states {formEnd} bytes for the file, which has {_fileLength}; the chunks agree with the file, so the sound is whole.");
        }
    }

    private static int WordBytes(WordFormat words) => words switch
    {
        WordFormat.Int16 => 2,
        WordFormat.Int24 => 3,
        WordFormat.Float64 => 8,
        _ => 4,
    };
}
