using Station.Audio.Encoding;

namespace Station.Audio.Reading;

/// <summary>
/// Walks over the bytes of a FLAC file (RFC 9639), hands on the frames that are whole, and puts frames of silence where some are
/// damaged or missing, so that every later sample keeps its place in time.
/// </summary>
/// <remarks>
/// A frame is whole when its header is (reserved values, CRC-8, rate, depth and channels of STREAMINFO) and its CRC-16 comes out
/// right where the next header stands, or else where its own subframes end. Its number says where it belongs. Work is linear in the
/// size of the file and memory bounded by the largest frame, whatever the bytes are: headers in great numbers, planted or by chance,
/// are compared by keys (<see cref="FlacCrc.Key"/>), never by reading the bytes between them again.
/// </remarks>
/// <param name="window">The file.</param>
/// <param name="info">STREAMINFO as it stands in the file.</param>
/// <param name="headerEnd">Behind STREAMINFO.</param>
/// <param name="lastBlock">STREAMINFO is marked as the last metadata block.</param>
/// <param name="output">Gets whole frames, in order; its memory is valid during the call.</param>
/// <param name="gapFound">Told each gap at once.</param>
/// <param name="stop">Ends a long silence; the window has its own.</param>
internal sealed class FlacWalker(
    FlacWindow window, FlacStreamInfo info, long headerEnd, bool lastBlock, ByteSink output, Action<FlacGap> gapFound, CancellationToken stop)
{
    /// <summary>
    /// How much may be read again by <see cref="FlacFrameMeasure"/>: so many times what was read, and a first amount. Damage needs a few
    /// frames of it; a file made of headers would need its square.
    /// </summary>
    private const int MeasureFactor = 4;

    private const long MeasureBytes = 16 << 20;

    /// <summary>Shortest subframe: 8 bits of header and 4 of a CONSTANT (§9.2).</summary>
    private const int LeastSubframeBytes = 2;

    /// <summary>Shortest frame: header, one subframe, CRC-16.</summary>
    private const int LeastFrameBytes = FlacFrameHeader.MinBytes + LeastSubframeBytes + 2;

    /// <summary>A step in time up to this long is believed at once, s; a longer one must fit the stated total, the bytes between, or the next frame.</summary>
    private const int BelievedStepSeconds = 60;

    private readonly byte[] _silence = new byte[FlacSilence.MaxBytes];
    private FlacWalk _walk = new();
    private FlacSyncScan _scan = new(window, 0);
    private long _point;          // number of the next point to look at
    private long _measured;       // bytes read by FlacFrameMeasure
    private long _soundAt;        // behind the last frame read: where the next should begin
    private bool _variable;
    private int _block;           // of a fixed-blocksize stream
    private long _nextNumber;     // coded number that continues
    private long _repeated;       // since the last frame read

    /// <summary>For tests of its linearity: bytes read by <see cref="FlacFrameMeasure"/>.</summary>
    internal long MeasuredBytes => _measured;

    /// <summary>Walks to the end of the file.</summary>
    /// <exception cref="IOException">Reading failed.</exception>
    public FlacWalk Run()
    {
        Begin();
        long behind = 0; // points in front of it lie inside a frame that was passed
        while (Next() is { } point)
        {
            if (point.IsEnd)
            {
                break;
            }

            if (point.Offset < behind)
            {
                _scan.Forget(++_point);
                continue;
            }

            long end = WholeTo(_point);
            if (end >= 0 && Take(point, end))
            {
                behind = end;
            }
            else
            {
                _walk.EndsInFrame |= end < 0 && point.Offset == _soundAt && IsOurs(point.Header) && _walk.SoundStart is not null && point.Header.Number == _nextNumber;
            }

            _scan.Forget(++_point);
        }

        _walk.SoundEnd = _soundAt;
        _walk.RepeatedAtEnd = _repeated;
        return _walk;
    }

    private long BelievedStep => (long)BelievedStepSeconds * info.SampleRateHz;

    private FlacSyncPoint? Next() => _point < _scan.Count || _scan.Discover(long.MaxValue) ? _scan[_point] : null;

    /// <summary>Passes the metadata blocks over. Unless the sound begins where they end, all behind STREAMINFO is searched for it.</summary>
    private void Begin()
    {
        long? stated = PassMetadata();
        _walk = new() { StatedSoundStart = stated };
        if (stated is long start)
        {
            window.MoveTo(start);
            _scan = new(window, start);
            _soundAt = start;
            if (Next() is { IsEnd: false } first && first.Offset == start && first.Header.Number == 0 && IsOurs(first.Header) && WholeTo(0) >= 0)
            {
                return;
            }
        }

        window.MoveTo(headerEnd);
        _scan = new(window, headerEnd);
        _soundAt = stated ?? headerEnd;
    }

    /// <summary>§8.1: one byte of type with a mark for the last block, three of length.</summary>
    private long? PassMetadata()
    {
        long at = headerEnd;
        bool last = lastBlock;
        while (!last)
        {
            if (at > window.Length - 4)
            {
                return null;
            }

            window.MoveTo(at);
            while (window.End - at < 4)
            {
                window.Extend();
            }

            ReadOnlySpan<byte> head = window.From(at);
            last = (head[0] & 0x80) != 0;
            at += 4 + (head[1] << 16 | head[2] << 8 | head[3]);
        }

        return at <= window.Length ? at : null;
    }

    private bool IsOurs(in FlacFrameHeader header) =>
        header.Channels == info.Channels
        && (header.SampleRateHz == 0 || header.SampleRateHz == info.SampleRateHz)
        && (header.BitsPerSample == 0 || header.BitsPerSample == info.BitsPerSample);

    /// <summary>Where the frame at a point ends; −1 when it is not whole.</summary>
    private long WholeTo(long number)
    {
        FlacSyncPoint point = _scan[number];
        long limit = Math.Min(window.Length, point.Offset + MostBytes(point.Header));
        long least = point.Offset + point.Header.Bytes + (LeastSubframeBytes * point.Header.Channels) + 2;
        for (long link = number; ;)
        {
            long next = _scan[link].Next;
            if (next < 0)
            {
                if (!_scan.Discover(limit))
                {
                    break;
                }

                continue;
            }

            long end = _scan[next].Offset;
            if (end > limit)
            {
                break;
            }

            if (end >= least)
            {
                return Continues(point.Header, _scan[next]) && window.From(end - 1)[0] != 0 ? end : Measured(point, limit);
            }

            link = next;
        }

        return Measured(point, limit);
    }

    /// <summary>
    /// True when the frame behind a point is the next of the same stream. Otherwise, and when zeros stand in front of it, the checksum comes
    /// out right over more than one frame too (it stays 0 over zeros and over whole frames), and only measuring tells.
    /// </summary>
    private static bool Continues(in FlacFrameHeader header, in FlacSyncPoint behind) =>
        !behind.IsEnd && behind.Header.Number == header.Number + (header.VariableBlocks ? header.BlockFrames : 1);

    private long Measured(in FlacSyncPoint point, long limit)
    {
        if (_measured > (MeasureFactor * point.Offset) + MeasureBytes)
        {
            return -1;
        }

        int length = FlacFrameMeasure.Length(window.Slice(point.Offset, Math.Min(limit, window.End)), point.Header, BitsOf(point.Header), out int read);
        _measured += read;
        return length < 0 ? -1 : point.Offset + length;
    }

    private int BitsOf(in FlacFrameHeader header) => header.BitsPerSample == 0 ? info.BitsPerSample : header.BitsPerSample;

    /// <summary>
    /// No frame is longer: twice what it takes without any compression, or what STREAMINFO states up to twice that again (an encoder
    /// has no reason to exceed the first, §9.2 allows it).
    /// </summary>
    private long MostBytes(in FlacFrameHeader header)
    {
        long plain = FlacFrameHeader.MaxBytes + 2 + (header.Channels * (8 + ((long)header.BlockFrames * (BitsOf(header) + 1) / 8)));
        return Math.Max(2 * plain, Math.Min(info.MaxFrameBytes, 4 * plain));
    }

    /// <returns>False when it is not believed to be a frame of this stream, and its inside is to be searched.</returns>
    private bool Take(in FlacSyncPoint point, long end)
    {
        FlacFrameHeader header = point.Header;
        if (!IsOurs(header))
        {
            _walk.ForeignAtEnd ??= (point.Offset, header);
            return true;
        }

        bool first = _walk.SoundStart is null;
        if (first)
        {
            Settle(header, point.Offset, end);
        }
        else if (header.VariableBlocks != _variable)
        {
            return true;
        }

        long ahead = header.Number - _nextNumber;
        if (ahead < 0)
        {
            _repeated++;
            return true;
        }

        long missing = _variable ? ahead : ahead * _block;
        if (!IsBelieved(missing, ahead, point.Offset, end, header))
        {
            return false;
        }

        if (first && (point.Offset < _soundAt || _walk.StatedSoundStart is null))
        {
            _soundAt = point.Offset;
        }

        if (missing > 0 || point.Offset > _soundAt)
        {
            Bridge(new(_soundAt, point.Offset, _walk.Frames, missing, _repeated));
        }

        output(window.Slice(point.Offset, end));
        _walk.SoundStart ??= point.Offset;
        _walk.Frames += header.BlockFrames;
        _nextNumber = header.Number + (_variable ? header.BlockFrames : 1);
        _soundAt = end;
        (_walk.EndsInFrame, _walk.ForeignAtEnd, _repeated) = (false, null, 0);
        return true;
    }

    /// <summary>The first whole frame decides how the stream is numbered and where it begins.</summary>
    private void Settle(in FlacFrameHeader header, long offset, long end)
    {
        _variable = header.VariableBlocks;
        bool stated = info.MinBlockFrames == info.MaxBlockFrames && info.MaxBlockFrames >= 16;
        _block = stated && !(header.BlockFrames != info.MaxBlockFrames && NumberAt(end) == header.Number + 1) ? info.MaxBlockFrames : header.BlockFrames;
        long start = _variable ? header.Number : header.Number * _block;

        // Without a total only the bytes in front tell lost frames from a recorder that joined a running stream.
        long between = Math.Max(0, offset - _soundAt);
        bool lost = info.TotalFrames > 0 ? start < info.TotalFrames : start <= BelievedStep || start <= between / LeastFrameBytes * (_variable ? ushort.MaxValue : _block);
        if (!lost)
        {
            _nextNumber = header.Number;
            _walk.NumberedFrom = start;
        }
    }

    private bool IsBelieved(long missing, long ahead, long offset, long end, in FlacFrameHeader header)
    {
        if (missing <= BelievedStep || (info.TotalFrames > 0 && _walk.Frames + missing < info.TotalFrames))
        {
            return true;
        }

        long between = Math.Max(0, offset - _soundAt) / LeastFrameBytes;
        return (_variable ? ahead / ushort.MaxValue : ahead) <= between
            || NumberAt(end) == header.Number + (_variable ? header.BlockFrames : 1);
    }

    /// <summary>The number in the header at an offset that was scanned; null when none stands there.</summary>
    private long? NumberAt(long offset)
    {
        (long low, long high) = (_point, _scan.Count);
        while (low < high)
        {
            long middle = (low + high) / 2;
            (low, high) = _scan[middle].Offset < offset ? (middle + 1, high) : (low, middle);
        }

        return low < _scan.Count && _scan[low] is { IsEnd: false } point && point.Offset == offset ? point.Header.Number : null;
    }

    /// <summary>Notes a gap and fills it with silence, in blocks the stream may hold.</summary>
    private void Bridge(in FlacGap gap)
    {
        gapFound(gap);
        if (_walk.Gaps.Count < FlacWalk.MaxGaps)
        {
            _walk.Gaps.Add(gap);
        }
        else
        {
            FlacGap all = _walk.FurtherGaps == 0 ? gap : _walk.Further;
            _walk.Further = all with
            {
                ByteEnd = gap.ByteEnd,
                Frames = _walk.FurtherGaps == 0 ? gap.Frames : all.Frames + gap.Frames,
                RepeatedBlocks = _walk.FurtherGaps == 0 ? gap.RepeatedBlocks : all.RepeatedBlocks + gap.RepeatedBlocks,
            };
            _walk.FurtherGaps++;
            _walk.FurtherEndFrame = gap.FirstFrame + gap.Frames;
        }

        _walk.SilentFrames += gap.Frames;
        for (long left = gap.Frames; left > 0;)
        {
            stop.ThrowIfCancellationRequested();
            int block = _variable ? NextBlock(left) : _block;
            int bytes = FlacSilence.Write(_silence, _variable, _nextNumber, block, info.SampleRateHz, info.Channels, info.BitsPerSample);
            output(_silence.AsSpan(0, bytes));
            _walk.Frames += block;
            _nextNumber += _variable ? block : 1;
            left -= block;
        }
    }

    /// <summary>Blocks of 4096, but never a rest under 16, which only the last block of a stream may be (§8.2).</summary>
    private static int NextBlock(long left) => (int)(left is > 4096 and < 4096 + 16 ? left - 16 : Math.Min(left, 4096));
}
