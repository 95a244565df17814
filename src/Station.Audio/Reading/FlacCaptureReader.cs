using System.Runtime.ExceptionServices;
using System.Security.Cryptography;
using Microsoft.Win32.SafeHandles;
using Station.Audio.Encoding;

namespace Station.Audio.Reading;

/// <summary>
/// FLAC through the decoder program: a thread of the reader's own walks over the file (and serves the byte sink) and feeds the decoder
/// what <see cref="FlacWalker"/> found to be whole; the caller's thread takes the words. What was damaged, and every difference from
/// the total and the MD5 that STREAMINFO states, is told in the repairs, never passed on in silence.
/// </summary>
internal sealed class FlacCaptureReader : CaptureReader
{
    /// <summary>Where STREAMINFO keeps the MD5: magic 4, block header 4, then 18 bytes of other fields (RFC 9639 §8.2).</summary>
    public const int Md5Offset = 26;

    /// <summary>The magic, a block header and STREAMINFO.</summary>
    private const int HeadBytes = 8 + FlacStreamInfo.ContentBytes;

    private const int PipeBytes = 64 * 1024;
    private const string PlayAgainAdvice = "Copy the file again from the recorder, or play the side again.";

    private readonly SafeFileHandle _file;
    private readonly long _fileLength;
    private readonly long _flacStart;
    private readonly string _name;
    private readonly ReaderLimits _limits;
    private readonly CodecTools _codecs;
    private readonly ByteSink? _fileBytes;
    private readonly FlacStreamInfo _info;
    private readonly byte[] _head;
    private readonly List<CaptureRepair> _repairs = [];
    private readonly byte[] _words;
    private readonly float[] _samples;
    private readonly IncrementalHash _md5;
    private readonly CancellationTokenSource _stop = new();

    private ChildProcess? _child;
    private Thread? _pump;
    private bool _takesMore = true; // the pump's: the decoder has not gone
    private FlacWalk? _walk; // written by the pump, read after it was joined
    private ExceptionDispatchInfo? _pumpFailure; // the same
    private long _read; // bytes of the file; written by the pump, read with Volatile for messages
    private long _frames;
    private bool _drained;
    private bool _ended;

    private FlacCaptureReader(
        SafeFileHandle file,
        long fileLength,
        long flacStart,
        string name,
        ReaderLimits limits,
        CodecTools codecs,
        ByteSink? fileBytes,
        byte[] head,
        FlacStreamInfo info,
        CaptureFormat format)
        : base(format, new OriginalLayout { WholeFileIsMaster = true })
    {
        (_file, _fileLength, _flacStart, _name) = (file, fileLength, flacStart, name);
        (_limits, _codecs, _fileBytes, _head, _info) = (limits, codecs, fileBytes, head, info);
        _words = GC.AllocateUninitializedArray<byte>(MaxBlockFrames * format.BytesPerFrame);
        _samples = GC.AllocateUninitializedArray<float>(MaxBlockFrames * format.Channels);
        // MD5 is what FLAC's own checksum is; it guards against accidents here, not against people.
        _md5 = IncrementalHash.CreateHash(HashAlgorithmName.MD5);
        if (flacStart > 0)
        {
            _repairs.Add(new(
                CaptureRepair.Damaged,
                FormattableString.Invariant($"An ID3 tag of {flacStart} bytes stands in front of the FLAC stream; it was passed over."),
                0,
                null)
            { SoundInDoubt = false });
        }

        if (info.Md5 is null)
        {
            _repairs.Add(new(
                CaptureRepair.Damaged,
                "The encoder left the MD5 of the sound unset, so the sound cannot be checked against it"
                    + (info.TotalFrames == 0 ? ", and the length too, so a missing end would not show." : "."),
                flacStart + Md5Offset,
                null));
        }
    }

    public override IReadOnlyList<CaptureRepair> Repairs => _repairs;

    /// <summary>For tests: the decoder, once it runs.</summary>
    internal int? ChildId { get; private set; }

    /// <summary>True when the sound was made with a checksum.</summary>
    public bool HasMd5 => _info.Md5 is not null;

    public static CaptureOpening Open(
        SafeFileHandle file,
        long fileLength,
        long flacStart,
        string name,
        ReaderLimits limits,
        CodecTools codecs,
        ByteSink? fileBytes)
    {
        CaptureRefusal Refuse(RefusalKind kind, long offset, string expected, string found, string advice) =>
            new(kind, name, flacStart + offset, expected, found, advice);

        byte[] head = new byte[HeadBytes];
        int got = FileBytes.ReadUpTo(file, flacStart, head);
        if (got < head.Length)
        {
            return new(null, Refuse(
                RefusalKind.BadInput, got, "a FLAC header of 42 bytes", FormattableString.Invariant($"the end after {got} bytes"), PlayAgainAdvice));
        }

        int type = head[4] & 0x7F;
        int length = head[5] << 16 | head[6] << 8 | head[7];
        if (type != 0 || length != FlacStreamInfo.ContentBytes)
        {
            return new(null, Refuse(
                RefusalKind.BadInput,
                4,
                "STREAMINFO (type 0, 34 bytes) as the first block",
                FormattableString.Invariant($"a block of type {type} with {length} bytes"),
                PlayAgainAdvice));
        }

        var info = FlacStreamInfo.Parse(head.AsSpan(8));
        CaptureRefusal? refusal = FormatRules.Check(name, flacStart + 18, info.SampleRateHz, info.Channels, info.TotalFrames, limits);
        if (refusal is not null)
        {
            return new(null, refusal);
        }

        // The decoder writes raw words of whole bytes only.
        if (info.BitsPerSample is not (16 or 24 or 32))
        {
            return new(null, Refuse(
                RefusalKind.Unsupported,
                20,
                "16, 24 or 32 bits a sample",
                FormattableString.Invariant($"{info.BitsPerSample} bits"),
                "Record with 24 bits."));
        }

        return new(new FlacCaptureReader(file, fileLength, flacStart, name, limits, codecs, fileBytes, head, info, FormatOf(info)), null);
    }

    /// <summary>The format of the words the decoder gives.</summary>
    /// <param name="info">Of 16, 24 or 32 bits.</param>
    public static CaptureFormat FormatOf(FlacStreamInfo info) => new()
    {
        Container = "flac",
        Words = info.BitsPerSample switch { 16 => WordFormat.Int16, 24 => WordFormat.Int24, _ => WordFormat.Int32 },
        SampleRateHz = info.SampleRateHz,
        BitsPerSample = info.BitsPerSample,
        Channels = info.Channels,
        Frames = info.TotalFrames,
    };

    public override CaptureBlock Read()
    {
        if (_ended)
        {
            return default;
        }

        if (_child is null)
        {
            Start();
        }

        int bytes = _drained ? 0 : _child.Output.ReadAtLeast(_words, _words.Length, throwOnEndOfStream: false);
        _drained |= bytes < _words.Length;
        int frames = bytes / Format.BytesPerFrame;
        if (frames == 0)
        {
            Finish();
            return default;
        }

        Span<byte> words = _words.AsSpan(0, frames * Format.BytesPerFrame);
        Span<float> samples = _samples.AsSpan(0, frames * Format.Channels);
        long first = _frames;
        _frames += frames;
        CheckDuration();
        _md5.AppendData(words);
        WordConversion.ToFloats(words, Format.Words, samples);
        return new CaptureBlock(first, Format.Channels, words, samples);
    }

    protected override void Dispose(bool disposing)
    {
        if (disposing)
        {
            _ended = true;
            StopChild();
            _md5.Dispose();
            _stop.Dispose();
        }
    }

    [System.Diagnostics.CodeAnalysis.MemberNotNull(nameof(_child))]
    private void Start()
    {
        _child = ChildProcess.Start(
            CodecProgram.Flac,
            _codecs.Flac,
            ["-d", "-c", "-s", "--force-raw-format", "--endian=little", "--sign=signed", "-"],
            claimOutput: true);
        ChildId = _child.Id;
        _pump = new Thread(Pump) { IsBackground = true, Name = "flac input" };
        _pump.Start();
    }

    /// <summary>The pump thread: every byte to the sink, whole frames to the decoder for as long as it takes any.</summary>
    private void Pump()
    {
        ChildProcess child = _child!;
        try
        {
            var window = new FlacWindow(_file, _fileLength, _name, Seen, _stop.Token);
            var pipe = new PipeBlock(PipeBytes, bytes => _takesMore = _takesMore && Feed(child, bytes));
            pipe.Add(HeadForDecoder());
            _walk = new FlacWalker(window, _info, _flacStart + HeadBytes, (_head[4] & 0x80) != 0, pipe.Add, GapFound, _stop.Token).Run();
            pipe.Flush();
        }
        catch (OperationCanceledException) when (_stop.IsCancellationRequested)
        {
            // Whoever stopped it needs nothing more.
        }
        catch (Exception e)
        {
            // Whatever it is (disk, sink, damage where none may be), it belongs to the caller of Read; the decoder must not wait for the rest.
            _pumpFailure = ExceptionDispatchInfo.Capture(e);
        }

        child.CloseInput();
    }

    private void Seen(ReadOnlySpan<byte> bytes)
    {
        _fileBytes?.Invoke(bytes);
        Volatile.Write(ref _read, _read + bytes.Length);
    }

    /// <summary>Damage in a file that should have none: what was decoded up to there has been handed on, the rest is not invented.</summary>
    private void GapFound(FlacGap gap)
    {
        if (_limits.DamagedSoundRefused && (gap.Frames > 0 || gap.RepeatedBlocks > 0))
        {
            throw new CaptureRefusedException(new(
                RefusalKind.BadInput,
                _name,
                gap.ByteStart,
                "a whole FLAC frame",
                FormattableString.Invariant($"{gap.ByteEnd - gap.ByteStart} bytes that are none, in place of {gap.Frames} frames of sound"),
                PlayAgainAdvice)
            { Frame = gap.FirstFrame, Seconds = (double)gap.FirstFrame / Format.SampleRateHz });
        }
    }

    /// <summary>
    /// The magic and STREAMINFO as the only block, without what the decoder would compare the sound with: total and MD5 are compared
    /// here, where a difference can be told instead of ending the reading. Sizes of blocks and frames that contradict themselves go too.
    /// </summary>
    private byte[] HeadForDecoder()
    {
        byte[] head = [.. _head];
        head[4] = 0x80;
        if (_info.MinBlockFrames < 16 || _info.MinBlockFrames > _info.MaxBlockFrames)
        {
            ReadOnlySpan<byte> widest = [0, 16, 0xFF, 0xFF];
            widest.CopyTo(head.AsSpan(8));
        }

        head.AsSpan(12, 6).Clear();  // smallest and largest frame: unknown
        head[21] &= 0xF0;            // the total: its last 36 bits
        head.AsSpan(22, 4).Clear();
        head.AsSpan(Md5Offset, 16).Clear();
        return head;
    }

    /// <returns>False when the decoder is gone; whether that was right, its exit code and the MD5 tell.</returns>
    private static bool Feed(ChildProcess child, ReadOnlySpan<byte> part)
    {
        try
        {
            child.Write(part);
            return true;
        }
        catch (IOException)
        {
            return false;
        }
    }

    private void CheckDuration()
    {
        if ((double)_frames / Format.SampleRateHz > _limits.MaxDurationSeconds)
        {
            StopChild();
            _ended = true;
            throw new CaptureRefusedException(At(
                RefusalKind.LimitReached,
                Volatile.Read(ref _read),
                FormattableString.Invariant($"at most {_limits.MaxDurationSeconds} s of sound"),
                "more while decoding",
                "Raise the limit or divide the capture."));
        }
    }

    private void Finish()
    {
        _ended = true;
        int exitCode = _child!.WaitForExit();
        _pump!.Join();
        string said = _child.StandardError;
        StopChild();
        _pumpFailure?.Throw();
        long length = RandomAccess.GetLength(_file);
        if (length != _fileLength)
        {
            throw new IOException(FormattableString.Invariant(
                $"{CaptureRefusal.Escape(_name)} changed its length while it was read: {_fileLength} bytes when it was opened, {length} at the end."));
        }

        FlacWalk walk = _walk!;
        CheckDecoded(walk, exitCode, said);
        string md5 = Convert.ToHexStringLower(_md5.GetHashAndReset());
        List<CaptureRepair> found = FlacRepairs.Of(walk, _info, _flacStart, _fileLength, md5);
        if (_limits.DamagedSoundRefused && found.Find(r => r.SoundInDoubt) is { } doubt)
        {
            throw new CaptureRefusedException(At(RefusalKind.BadInput, doubt.ByteOffset, "sound as it was encoded", doubt.Message, PlayAgainAdvice));
        }

        _repairs.AddRange(found);
    }

    /// <summary>What no repair can mend: no frame at all, a stream that turns into another, a decoder that fails on whole frames.</summary>
    private void CheckDecoded(FlacWalk walk, int exitCode, string said)
    {
        if (walk.ForeignAtEnd is var (offset, header) && (_info.TotalFrames == 0 || walk.Frames < _info.TotalFrames))
        {
            throw new CaptureRefusedException(At(
                RefusalKind.BadInput,
                offset,
                FormattableString.Invariant($"frames of {_info.SampleRateHz} Hz, {_info.BitsPerSample} bits, {_info.Channels} channels as STREAMINFO says, to the end"),
                FormattableString.Invariant($"frames of {Or(header.SampleRateHz, _info.SampleRateHz)} Hz, {Or(header.BitsPerSample, _info.BitsPerSample)} bits, {header.Channels} channels"),
                "Record the side in one format, or divide the file where the format changes."));
        }

        if (walk.SoundStart is null)
        {
            throw new CaptureRefusedException(At(
                RefusalKind.BadInput, walk.StatedSoundStart ?? _flacStart + HeadBytes, "at least one whole FLAC frame", "none up to the end", PlayAgainAdvice));
        }

        if (exitCode != 0 || _frames != walk.Frames)
        {
            throw new CaptureRefusedException(At(
                RefusalKind.BadInput,
                walk.SoundEnd,
                FormattableString.Invariant($"{walk.Frames} frames of sound from FLAC frames whose checksums are right"),
                FormattableString.Invariant($"{_frames} decoded (decoder exit code {exitCode}: {Summary(said)})"),
                PlayAgainAdvice));
        }
    }

    private static int Or(int stated, int otherwise) => stated == 0 ? otherwise : stated;

    /// <summary>The first complaint is the cause; the rest repeats it.</summary>
    private static string Summary(string said) => said.Length == 0 ? "it said nothing" : said[..Math.Min(said.Length, 160)];

    private CaptureRefusal At(RefusalKind kind, long offset, string expected, string found, string advice) =>
        new(kind, _name, offset, expected, found, advice) { Frame = _frames, Seconds = (double)_frames / Format.SampleRateHz };

    private void StopChild()
    {
        if (_child is null)
        {
            return;
        }

        _stop.Cancel();

        // Killing it ends both a blocked write of the pump and a blocked read; the pump closes the input itself.
        _child.Kill();
        _pump?.Join();
        _child.Dispose();
        _child = null;
    }
}
