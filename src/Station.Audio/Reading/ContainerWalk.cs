namespace Station.Audio.Reading;

/// <summary>
/// Walks the chunks of a container and decides where the sound lies. Every stated length is compared with the file before it is used,
/// none is allocated by, and whatever had to be assumed becomes a repair.
/// </summary>
internal abstract class ContainerWalk(PcmSource source, ChunkScheme chunks)
{
    /// <summary>More chunks than any writer makes; a file of empty chunks must not cost minutes.</summary>
    private const int MaxChunks = 65_536;

    /// <summary>Contradictions between chunks told one by one; a file with more is damaged all over, and a list of thousands would help nobody.</summary>
    private const int MaxTold = 20;

    protected const string CopyAgainAdvice = "Copy the file again from the recorder, or play the side again.";

    private readonly List<CaptureRepair> _repairs = [];
    private StoredFormat? _format;
    private long _dataOffset = -1;
    private long _dataSizeAt;
    private long _dataBytes;
    private DataEnd _dataEnd;
    private long _statedDataBytes;
    private bool _statedPlaceholder;
    private long _walkEnd; // end of the last chunk, without its padding
    private string? _stoppedBy;
    private bool _walking;
    private int _untold; // contradictions behind the first MaxTold, the first of them, and whether one puts the sound in doubt
    private long _untoldAt;
    private bool _untoldInDoubt;
    private bool _endExplained; // a repair says already why the size of the whole is wrong

    /// <summary>How the end of the sound was found.</summary>
    protected enum DataEnd
    {
        AsStated,
        Cut,
        Unknown,
        Wrapped,
    }

    /// <summary>As the report names it. Known once the form was read.</summary>
    protected abstract string Container { get; }

    protected abstract uint FormatId { get; }

    protected abstract uint DataId { get; }

    /// <summary>Bytes before the first chunk.</summary>
    protected abstract int FormBytes { get; }

    /// <summary>Where the size of the whole stands.</summary>
    protected abstract int FormSizeAt { get; }

    /// <summary>End of the file as the header states it; -1 unknown.</summary>
    protected long FormEnd { get; set; } = -1;

    /// <summary>Fewer bytes of a format chunk than this say nothing.</summary>
    protected abstract int UsedFormatBytes { get; }

    /// <summary>Sizes have 32 bits, so that those of long files overflow.</summary>
    protected abstract bool SizesOverflow { get; }

    protected PcmSource Source { get; } = source;

    protected BroadcastExtension? Broadcast { get; set; }

    /// <summary>Walks the file.</summary>
    /// <returns>Null and a layout, or why not.</returns>
    public CaptureRefusal? Run(out PcmLayout? layout)
    {
        layout = null;
        return ReadForm() ?? ReadChunks() ?? Conclude(out layout);
    }

    /// <summary>Reads what precedes the first chunk.</summary>
    protected abstract CaptureRefusal? ReadForm();

    /// <summary>Judges a format chunk.</summary>
    protected abstract CaptureRefusal? ParseFormat(long content, long length, out StoredFormat? format);

    /// <summary>A chunk that is neither format nor sound and lies whole in the file.</summary>
    protected virtual void TakeOther(in ChunkHeader chunk, long content)
    {
    }

    /// <summary>The length a data chunk states, where that is not in its own header.</summary>
    /// <param name="chunk">Its header.</param>
    /// <param name="placeholder">The size field only says that it is not known.</param>
    protected virtual long StatedDataBytes(in ChunkHeader chunk, out bool placeholder)
    {
        placeholder = false;
        return chunk.Bytes;
    }

    /// <summary>Bytes that every data chunk holds in front of its sound.</summary>
    protected virtual int DataHeaderBytes => 0;

    /// <summary>Bytes of a data chunk's content in front of the first sample.</summary>
    protected virtual long DataPrefix(long content, long chunkBytes) => 0;

    /// <summary>Holds the frames found against what the format chunk states about them.</summary>
    /// <returns>Frames to read, at most <paramref name="frames"/>.</returns>
    protected virtual long Reconcile(long frames, DataEnd end, long sizeAt) => frames;

    /// <summary>What the container says about the assumed end elsewhere: added to the repair.</summary>
    /// <param name="inDoubt">False when it confirms the assumption.</param>
    protected virtual string Confirmation(long frames, out bool inDoubt)
    {
        inDoubt = true;
        return "";
    }

    protected StoredFormat Format => _format!;

    protected static string Text(FormattableString text) => FormattableString.Invariant(text);

    protected CaptureRefusal Bad(long offset, string expected, FormattableString found) =>
        new(RefusalKind.BadInput, Source.Name, offset, expected, Text(found), CopyAgainAdvice);

    protected void Repair(string code, long offset, bool soundInDoubt, FormattableString message, long? frame = null)
    {
        if (_walking && _repairs.Count >= MaxTold)
        {
            _untoldAt = _untold == 0 ? offset : _untoldAt;
            _untold++;
            _untoldInDoubt |= soundInDoubt;
            return;
        }

        _repairs.Add(new(code, Text(message), offset, frame) { SoundInDoubt = soundInDoubt });
    }

    private CaptureRefusal? ReadChunks()
    {
        _walking = true;
        CaptureRefusal? refusal = WalkChunks();
        _walking = false;
        if (_untold > 0)
        {
            Repair(CaptureRepair.Damaged, _untoldAt, _untoldInDoubt, $"Of such contradictions between chunks there are {_untold} more from byte {_untoldAt} on.");
        }

        return refusal;
    }

    private CaptureRefusal? WalkChunks()
    {
        long offset = FormBytes;
        _walkEnd = offset;
        for (int count = 0; chunks.TryRead(offset, out ChunkHeader chunk); count++)
        {
            if (count == MaxChunks)
            {
                return new(
                    RefusalKind.LimitReached, Source.Name, offset, Text($"at most {MaxChunks} chunks"), "more", "No recorder writes such a file: record it again.");
            }

            if (!chunk.IsChunk)
            {
                _stoppedBy = Text($"bytes {chunk.Id:X8} at byte {offset}, which are no chunk");
                break;
            }

            long content = offset + chunks.HeaderBytes;
            long left = Source.Bytes - content;
            long length = chunk.Bytes;
            if (chunk.Id == DataId)
            {
                length = TakeData(offset, chunk, left);
            }
            else if (length < 0 || length > left)
            {
                if (StoppedByLength(offset, chunk, left) is { } refusal)
                {
                    return refusal;
                }

                break;
            }
            else if (chunk.Id == FormatId)
            {
                if (TakeFormat(content, length) is { } refusal)
                {
                    return refusal;
                }
            }
            else
            {
                TakeOther(chunk, content);
            }

            _walkEnd = content + length;
            offset = Next(_walkEnd, length, chunk);
        }

        return null;
    }

    private CaptureRefusal? StoppedByLength(long offset, in ChunkHeader chunk, long left)
    {
        _stoppedBy = chunk.Bytes < 0
            ? Text($"chunk {chunk.Name} at byte {offset}, whose size is less than its own header")
            : Text($"chunk {chunk.Name} at byte {offset}, which states {chunk.Bytes} bytes where {left} are left");
        if (chunk.Id == FormatId && _format is null && left < UsedFormatBytes)
        {
            return Bad(offset + chunks.HeaderBytes, Text($"a {chunk.Name.Trim('\'').TrimEnd()} chunk of {chunk.Bytes} bytes"), $"{left} bytes to the end of the file");
        }

        // Behind the sound, an unknown name is more likely sound that an unfinished header does not count than a chunk.
        if (_dataOffset >= 0 && chunks.IsKnown(chunk.Id))
        {
            Repair(CaptureRepair.Damaged, offset, false, $"Behind the sound, {_stoppedBy}: the file may have been cut there. The sound is whole.");
            _endExplained = true;
            _walkEnd = Source.Bytes;
        }

        return null;
    }

    /// <summary>Chunks are padded; a writer that leaves out the padding is noticed by what stands there.</summary>
    private long Next(long end, long length, in ChunkHeader chunk)
    {
        int pad = chunks.PadAfter(length);
        if (pad == 0)
        {
            return end;
        }

        bool missing = chunks.TryRead(end, out ChunkHeader unpadded) && chunks.IsKnown(unpadded.Id)
            && !(chunks.TryRead(end + pad, out ChunkHeader padded) && chunks.IsKnown(padded.Id));
        if (missing)
        {
            string what = chunks.Alignment == 2 ? "an odd length but no pad byte" : Text($"no padding to a multiple of {chunks.Alignment} bytes");
            Repair(CaptureRepair.Damaged, end, false, $"Chunk {chunk.Name} has {what}; read without it.");
            return end;
        }

        return end + pad;
    }

    private CaptureRefusal? TakeFormat(long content, long length)
    {
        CaptureRefusal? refusal = ParseFormat(content, length, out StoredFormat? format);
        if (_format is null)
        {
            _format = format;
            return refusal;
        }

        if (refusal is not null || _format != format)
        {
            Repair(CaptureRepair.Damaged, content, true, $"There is a second format chunk that differs from the first; the first was believed.");
        }

        return null;
    }

    /// <returns>Bytes of the chunk to walk over.</returns>
    private long TakeData(long offset, in ChunkHeader chunk, long left)
    {
        long content = offset + chunks.HeaderBytes;
        long stated = StatedDataBytes(chunk, out bool placeholder);
        long prefix = DataPrefix(content, stated > DataHeaderBytes && stated <= left ? stated : left);
        bool empty = stated <= prefix;
        bool unknown = empty || placeholder;
        if (_dataOffset >= 0)
        {
            long second = unknown ? left : Math.Min(stated, left);
            if (second > 0)
            {
                Repair(CaptureRepair.Damaged, offset, true, $"There is a second {chunk.Name.Trim('\'')} chunk of {second} bytes; only the first was taken as sound.");
            }

            return second;
        }

        long emptyBytes = Math.Clamp(stated, 0, left);
        if (unknown && (left <= prefix || (empty && !placeholder && chunks.ChainsToEnd(content + emptyBytes + chunks.PadAfter(emptyBytes)))))
        {
            return emptyBytes; // an empty chunk; another may hold the sound
        }

        _dataOffset = content + prefix;
        _dataSizeAt = offset + chunks.SizeAt;
        _statedDataBytes = Math.Max(0, stated - prefix);
        _statedPlaceholder = placeholder;
        long chunkBytes = stated;
        if (unknown)
        {
            _dataEnd = DataEnd.Unknown;
            chunkBytes = chunks.FindTail(_dataOffset) - content;
        }
        else if (stated > left)
        {
            // Chunks that lead exactly to the end show that nothing is missing: the size is a placeholder.
            chunkBytes = chunks.FindTail(_dataOffset) - content;
            _dataEnd = chunkBytes < left ? DataEnd.Unknown : DataEnd.Cut;
        }
        else if (SizesOverflow && left - stated > uint.MaxValue && Unwrapped(content, stated) is { } whole)
        {
            _dataEnd = DataEnd.Wrapped;
            chunkBytes = whole;
        }

        _dataBytes = chunkBytes - prefix;
        return chunkBytes;
    }

    /// <summary>A 32-bit size that overflowed: the true size is a multiple of 4 GiB more, and the file must agree with it.</summary>
    private long? Unwrapped(long content, long stated)
    {
        const long Wrap = 1L << 32;
        bool Agrees(long bytes)
        {
            long end = content + bytes + chunks.PadAfter(bytes);
            return end >= Source.Bytes || chunks.ChainsToEnd(end);
        }

        if (Agrees(stated))
        {
            return null;
        }

        for (long bytes = stated + ((Source.Bytes - content - stated) / Wrap * Wrap); bytes > stated; bytes -= Wrap)
        {
            if (Agrees(bytes))
            {
                return bytes;
            }
        }

        return null;
    }

    private CaptureRefusal? Conclude(out PcmLayout? layout)
    {
        layout = null;
        string where = _stoppedBy is null ? "none up to the end of the file" : $"none up to {_stoppedBy}";
        if (_format is null)
        {
            return Bad(FormBytes, Text($"a {ChunkText(FormatId)} chunk"), $"{where}");
        }

        if (_dataOffset < 0)
        {
            return Bad(FormBytes, Text($"a {ChunkText(DataId)} chunk with sound"), $"{where}");
        }

        int frameBytes = _format.Channels * _format.WordBytes;
        long frames = _dataBytes / frameBytes;
        if (frames == 0)
        {
            return Bad(_dataOffset, Text($"at least one frame of {frameBytes} bytes"), $"{_dataBytes} bytes of sound");
        }

        if (_format.Contradiction is { } contradiction)
        {
            Repair(CaptureRepair.Damaged, FormBytes, _format.ContradictionInDoubt, $"{contradiction}");
        }

        long kept = Reconcile(frames, _dataEnd, _dataSizeAt);
        if (FormatRules.Check(Source.Name, _dataSizeAt, _format.SampleRateHz, _format.Channels, kept, Source.Limits) is { } refusal)
        {
            return refusal;
        }

        DescribeData(frames, kept, frameBytes);
        DescribeEnd();
        layout = new PcmLayout
        {
            Container = Container,
            Format = _format,
            DataOffset = _dataOffset,
            Frames = kept,
            Repairs = _repairs,
            EndAssumed = _dataEnd is DataEnd.Unknown or DataEnd.Cut,
            Broadcast = Broadcast,
        };
        return null;
    }

    private static string ChunkText(uint id) => new ChunkHeader(id, true, 0).Name.Trim('\'').TrimEnd();

    private void DescribeData(long frames, long kept, int frameBytes)
    {
        double Seconds(long bytes) => (double)bytes / frameBytes / _format!.SampleRateHz;
        long partial = kept < frames ? 0 : _dataBytes % frameBytes; // what was left out on purpose was told or is padding
        string rest = partial == 0 ? "" : Text($" The last {partial} bytes are no whole frame and were left out of the sound.");
        long end = _dataOffset + _dataBytes;
        switch (_dataEnd)
        {
            case DataEnd.Unknown:
                string until = end == Source.Bytes ? "the end of the file" : Text($"the chunk at byte {end}");
                string size = _statedPlaceholder ? "0xFFFFFFFF" : Text($"{_statedDataBytes}");
                string confirmed = Confirmation(frames, out bool inDoubt);
                Repair(
                    CaptureRepair.Damaged,
                    _dataSizeAt,
                    inDoubt,
                    $"The header was never completed (data size {size}): everything up to {until} was taken as sound, {frames} frames ({Seconds(_dataBytes):0.000} s).{confirmed}{rest}");
                break;
            case DataEnd.Cut:
                // A recorder's placeholder such as 0x7FFFFFFF looks the same as a cut file, so the message must not be surer than the evidence.
                Repair(
                    CaptureRepair.Truncated,
                    _dataSizeAt,
                    true,
                    $"The header states {_statedDataBytes} bytes of sound ({Seconds(_statedDataBytes):0.000} s) but the file ends after {_dataBytes} ({Seconds(_dataBytes):0.000} s): the end is missing, or the recorder never wrote the true size. {frames} frames were read.{rest}",
                    frames);
                break;
            case DataEnd.Wrapped:
                Repair(
                    CaptureRepair.Damaged,
                    _dataSizeAt,
                    true,
                    $"The data size of {_statedDataBytes} bytes overflowed at 4 GiB: {_dataBytes} bytes were taken as sound, which is where the file's chunks go on.{rest}");
                break;
            default:
                if (partial != 0 && !IsPadding(end, partial))
                {
                    Repair(
                        CaptureRepair.Damaged, _dataSizeAt, true, $"The data size of {_dataBytes} bytes is no whole number of frames of {frameBytes} bytes.{rest}", frames);
                }

                break;
        }
    }

    /// <summary>Some writers count a chunk's padding as its content (observed: Wave64 of ffmpeg 5.1.9): zeros up to the next chunk's place, and no sound.</summary>
    private bool IsPadding(long end, long partial)
    {
        Span<byte> bytes = stackalloc byte[8];
        if (partial >= chunks.Alignment || end % chunks.Alignment != 0)
        {
            return false;
        }

        bytes = bytes[..(int)partial];
        FileBytes.ReadExactly(Source.File, end - partial, bytes, Source.Name);
        return !bytes.ContainsAnyExcept((byte)0);
    }

    private void DescribeEnd()
    {
        int slack = chunks.Alignment - 1;
        long dataEnd = _dataOffset + _dataBytes;
        long junk = Source.Bytes - _walkEnd;
        if (dataEnd + slack < Source.Bytes && junk > slack)
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

        if (FormEnd < 0)
        {
            Repair(
                CaptureRepair.Damaged, FormSizeAt, false, $"The header does not state the size of the file; the chunks agree with the file, so the sound is whole.");
        }
        else if (Distance(FormEnd, _walkEnd) > slack && Distance(FormEnd, Source.Bytes) > slack)
        {
            Repair(
                CaptureRepair.Damaged,
                FormSizeAt,
                false,
                $"The header states {FormEnd} bytes for the file, which has {Source.Bytes}; the chunks agree with the file, so the sound is whole.");
        }
    }

    private static Int128 Distance(long a, long b) => Int128.Abs((Int128)a - b);
}
