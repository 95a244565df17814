using Microsoft.Win32.SafeHandles;

namespace Station.Audio.Reading;

/// <summary>PCM and float words straight from the file, little-endian whatever their order in it.</summary>
internal sealed class PcmCaptureReader : CaptureReader
{
    private readonly SafeFileHandle _file;
    private readonly long _fileLength;
    private readonly string _name;
    private readonly ByteSink? _fileBytes;
    private readonly List<CaptureRepair> _repairs;
    private readonly WordSuspicions _suspicions;
    private readonly byte[] _words;
    private readonly float[] _samples;
    private long _frame;
    private bool _begun;
    private bool _ended;

    private PcmCaptureReader(PcmSource source, CaptureFormat format, PcmLayout layout, ByteSink? fileBytes)
        : base(format, Divide(source.Bytes, format, layout))
    {
        (_file, _fileLength, _name, _fileBytes) = (source.File, source.Bytes, source.Name, fileBytes);
        Broadcast = layout.Broadcast;
        _repairs = [.. layout.Repairs];
        _suspicions = new WordSuspicions(format, layout.EndAssumed);
        int blockFrames = (int)Math.Min(MaxBlockFrames, format.Frames);
        _words = GC.AllocateUninitializedArray<byte>(blockFrames * format.BytesPerFrame);
        _samples = GC.AllocateUninitializedArray<float>(blockFrames * format.Channels);
    }

    public override IReadOnlyList<CaptureRepair> Repairs => _repairs;

    public override BroadcastExtension? Broadcast { get; }

    /// <summary>Makes the reader of what a walk found.</summary>
    public static CaptureOpening Open(PcmSource source, ContainerWalk walk, ByteSink? fileBytes)
    {
        CaptureRefusal? refusal = walk.Run(out PcmLayout? layout);
        if (refusal is not null || layout is null)
        {
            return new(null, refusal);
        }

        var format = new CaptureFormat
        {
            Container = layout.Container,
            Words = layout.Format.Words,
            BigEndianInFile = layout.Format.BigEndian,
            SampleRateHz = layout.Format.SampleRateHz,
            BitsPerSample = layout.Format.BitsPerSample,
            Channels = layout.Format.Channels,
            Frames = layout.Frames,
        };
        return new(new PcmCaptureReader(source, format, layout, fileBytes), null);
    }

    public override CaptureBlock Read()
    {
        if (_ended)
        {
            return default;
        }

        if (!_begun)
        {
            _begun = true;
            PassToSink(0, Layout.HeaderBytes);
        }

        int frames = (int)Math.Min(MaxBlockFrames, Format.Frames - _frame);
        if (frames == 0)
        {
            Finish();
            return default;
        }

        Span<byte> words = _words.AsSpan(0, frames * Format.BytesPerFrame);
        Span<float> samples = _samples.AsSpan(0, frames * Format.Channels);
        FileBytes.ReadExactly(_file, Layout.HeaderBytes + (_frame * Format.BytesPerFrame), words, _name);
        _fileBytes?.Invoke(words);
        if (Format.BigEndianInFile)
        {
            WordReversal.Reverse(words, Format.BytesPerSample);
        }

        _suspicions.Add(words);
        WordConversion.ToFloats(words, Format.Words, samples);
        long first = _frame;
        _frame += frames;
        return new CaptureBlock(first, Format.Channels, words, samples);
    }

    protected override void Dispose(bool disposing) => _ended = true;

    private static OriginalLayout Divide(long fileLength, CaptureFormat format, PcmLayout layout)
    {
        long wordBytes = layout.Frames * format.BytesPerFrame;
        return new()
        {
            HeaderBytes = layout.DataOffset,
            WordBytes = wordBytes,
            TrailerBytes = fileLength - layout.DataOffset - wordBytes,
            ReversedWordBytes = format.BigEndianInFile ? format.BytesPerSample : 0,
        };
    }

    private void Finish()
    {
        PassToSink(Layout.TrailerOffset, Layout.TrailerBytes);
        long length = RandomAccess.GetLength(_file);
        if (length != _fileLength)
        {
            throw new IOException(FormattableString.Invariant($"{CaptureRefusal.Escape(_name)} changed its length while it was read: {_fileLength} bytes when it was opened, {length} at the end."));
        }

        _repairs.AddRange(_suspicions.Conclude(Layout, Format));
        _ended = true;
    }

    private void PassToSink(long offset, long count)
    {
        if (_fileBytes is not null)
        {
            FileBytes.Pass(_file, offset, count, _fileBytes, _name);
        }
    }
}
