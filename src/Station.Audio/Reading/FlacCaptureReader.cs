using System.Diagnostics;
using System.Runtime.ExceptionServices;
using System.Security.Cryptography;
using Microsoft.Win32.SafeHandles;
using Station.Audio.Encoding;

namespace Station.Audio.Reading;

/// <summary>
/// FLAC through the decoder program: a pump thread feeds it the file (and the byte sink), the caller's thread takes the words.
/// What comes out is compared with the frames and the MD5 that STREAMINFO states; a difference is never passed on in silence.
/// </summary>
internal sealed class FlacCaptureReader : CaptureReader
{
    /// <summary>Where STREAMINFO keeps the MD5: magic 4, block header 4, then 18 bytes of other fields (RFC 9639 §8.2).</summary>
    public const int Md5Offset = 26;

    private const int PumpBytes = 64 * 1024;
    private const string PlayAgainAdvice = "Copy the file again from the recorder, or play the side again.";

    private readonly SafeFileHandle _file;
    private readonly long _fileLength;
    private readonly long _flacStart;
    private readonly string _name;
    private readonly ReaderLimits _limits;
    private readonly CodecTools _codecs;
    private readonly ByteSink? _fileBytes;
    private readonly FlacStreamInfo _info;
    private readonly List<CaptureRepair> _repairs = [];
    private readonly byte[] _words;
    private readonly float[] _samples;
    private readonly IncrementalHash _md5;

    private ChildProcess? _child;
    private Thread? _pump;
    private volatile bool _stop;
    private long _fed; // written by the pump; read with Volatile for messages
    private ExceptionDispatchInfo? _pumpFailure; // written by the pump, read after it was joined
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
        FlacStreamInfo info,
        CaptureFormat format)
        : base(format, new OriginalLayout { WholeFileIsMaster = true })
    {
        (_file, _fileLength, _flacStart, _name) = (file, fileLength, flacStart, name);
        (_limits, _codecs, _fileBytes, _info) = (limits, codecs, fileBytes, info);
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

        Span<byte> head = stackalloc byte[8 + FlacStreamInfo.ContentBytes];
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

        var info = FlacStreamInfo.Parse(head[8..]);
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

        var format = new CaptureFormat
        {
            Container = "flac",
            Words = info.BitsPerSample switch { 16 => WordFormat.Int16, 24 => WordFormat.Int24, _ => WordFormat.Int32 },
            SampleRateHz = info.SampleRateHz,
            BitsPerSample = info.BitsPerSample,
            Channels = info.Channels,
            Frames = info.TotalFrames,
        };
        return new(new FlacCaptureReader(file, fileLength, flacStart, name, limits, codecs, fileBytes, info, format), null);
    }

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

    /// <summary>The pump thread: every byte to the sink, and to the decoder for as long as it takes any.</summary>
    private void Pump()
    {
        ChildProcess child = _child!;
        bool fed = true;
        try
        {
            byte[] block = GC.AllocateUninitializedArray<byte>(PumpBytes);
            for (long offset = 0; offset < _fileLength && !_stop;)
            {
                Span<byte> part = block.AsSpan(0, (int)Math.Min(block.Length, _fileLength - offset));
                FileBytes.ReadExactly(_file, offset, part, _name);
                _fileBytes?.Invoke(part);
                offset += part.Length;
                fed = fed && Feed(child, part);
                if (fed)
                {
                    Volatile.Write(ref _fed, offset);
                }
            }
        }
        catch (Exception e)
        {
            // Whatever it is (disk, sink), it belongs to the caller of Read; the decoder must not wait for the rest.
            _pumpFailure = ExceptionDispatchInfo.Capture(e);
        }

        child.CloseInput();
    }

    /// <returns>False when the decoder is gone; whether that was right, its exit code and the MD5 tell.</returns>
    private static bool Feed(ChildProcess child, ReadOnlySpan<byte> part)
    {
        try
        {
            child.Input.Write(part);
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
                Volatile.Read(ref _fed),
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
        long fed = _fed;
        StopChild();
        _pumpFailure?.Throw();
        long length = RandomAccess.GetLength(_file);
        if (length != _fileLength)
        {
            throw new IOException(FormattableString.Invariant(
                $"{CaptureRefusal.Escape(_name)} changed its length while it was read: {_fileLength} bytes when it was opened, {length} at the end."));
        }

        bool whole = _info.TotalFrames == 0 ? exitCode == 0 : _frames == _info.TotalFrames;
        string md5 = Convert.ToHexStringLower(_md5.GetHashAndReset());
        bool matches = string.Equals(md5, _info.Md5, StringComparison.Ordinal);
        if (whole && _frames > 0 && matches)
        {
            if (exitCode != 0 || fed < _fileLength)
            {
                _repairs.Add(new(
                    CaptureRepair.Damaged,
                    "Something that is no sound follows the last FLAC frame; all the stated sound is there and matches its MD5.",
                    _fileLength,
                    _frames)
                { SoundInDoubt = false });
            }

            return;
        }

        if (exitCode != 0 && !(whole && _info.Md5 is not null))
        {
            throw new CaptureRefusedException(At(
                RefusalKind.BadInput,
                fed,
                _info.TotalFrames == 0 ? "a FLAC stream that decodes" : FormattableString.Invariant($"{_info.TotalFrames} frames"),
                FormattableString.Invariant($"a stream that is cut or damaged (decoder exit code {exitCode}: {Summary(said)})"),
                PlayAgainAdvice));
        }

        if (_frames == 0 || !whole)
        {
            throw new CaptureRefusedException(At(
                RefusalKind.BadInput,
                fed,
                _info.TotalFrames == 0 ? "at least one frame" : FormattableString.Invariant($"{_info.TotalFrames} frames"),
                FormattableString.Invariant($"{_frames} frames"),
                PlayAgainAdvice));
        }

        if (_info.Md5 is not null)
        {
            throw new CaptureRefusedException(At(
                RefusalKind.BadInput, _flacStart + Md5Offset, $"sound with MD5 {_info.Md5}", $"MD5 {md5}", PlayAgainAdvice));
        }

        Debug.Assert(exitCode == 0, "An unset MD5 is accepted only from a decoder without complaint.");
    }

    /// <summary>The first complaint is the cause; the rest repeats it.</summary>
    private static string Summary(string said) => said.Length == 0 ? "it said nothing" : said[..Math.Min(said.Length, 160)];

    private CaptureRefusal At(RefusalKind kind, long offset, string expected, string found, string advice) =>
        new(kind, _name, offset, expected, found, advice) { Frame = _frames, Seconds = (double)_frames / Format.SampleRateHz };

    private void StopChild()
    {
        _stop = true;
        if (_child is null)
        {
            return;
        }

        // Killing it ends both a blocked write of the pump and a blocked read; the pump closes the input itself.
        _child.Kill();
        _pump?.Join();
        _child.Dispose();
        _child = null;
    }
}
