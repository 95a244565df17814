using System.Collections.Immutable;
using Station.Audio.Encoding;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Daemon.Jobs;

namespace Station.Daemon.Listening;

/// <summary>Feeds one track's frames to an encoder per format and to the loudness meter.</summary>
internal sealed class TrackEncoder : IDisposable
{
    private readonly List<Output> _outputs = [];
    private readonly Dictionary<int, ChangedRate> _changed = [];
    private readonly LoudnessMeter _loudness;
    private readonly CaptureFormat _format;
    private readonly CopySamples _samples;
    private readonly DividedTrack _track;
    private readonly bool _forBothEars;
    private float[] _doubled = [];

    /// <param name="readFrom">The first frame that will come: that of <see cref="ReadFrom"/>.</param>
    /// <param name="stem">Path without extension; existing files are replaced.</param>
    public TrackEncoder(CodecTools codecs, ListeningOptions options, CaptureFormat format, CopyMaking making, DividedTrack track, long readFrom, string stem)
    {
        _format = format;
        _track = track;
        _samples = new CopySamples(format, making);
        _forBothEars = making.Mono is not null;

        // One channel is heard from two loudspeakers, so its loudness is that of the same sound in both (EBU Tech 3343 on mono programmes, from memory).
        _loudness = new LoudnessMeter(format.SampleRateHz, _forBothEars ? 2 : format.Channels);
        try
        {
            foreach (string kind in options.Formats.Distinct(StringComparer.Ordinal))
            {
                string path = $"{stem}.{kind}";
                int rateHz = options.RateOf(kind, format.SampleRateHz);
                if (rateHz != format.SampleRateHz && !_changed.ContainsKey(rateHz))
                {
                    _changed.Add(rateHz, new ChangedRate(new RateChange(format.SampleRateHz, rateHz, _samples.Channels, readFrom, track.StartFrame, track.EndFrame)));
                }

                Shape shape = ShapeFor(kind, options, rateHz);
                _outputs.Add(new Output(kind, path, shape, rateHz, Start(kind, codecs, options, Pcm(shape, rateHz), path)));
            }
        }
        catch
        {
            Dispose();
            throw;
        }
    }

    private enum Shape
    {
        Captured,
        Words24,
        Words16,
    }

    /// <summary>Where reading has to begin, so that a change of rate knows what came before.</summary>
    public static long ReadFrom(DividedTrack track) => Math.Max(0, track.StartFrame - RateChange.ContextFrames);

    /// <summary>Where reading has to end, where there is so much.</summary>
    public static long ReadTo(DividedTrack track) => track.EndFrame + RateChange.ContextFrames;

    /// <summary>Takes frames, from <see cref="ReadFrom"/> on.</summary>
    /// <param name="firstFrame">Where the block lies in what the track's frames count in.</param>
    public void Write(in CaptureBlock block, long firstFrame)
    {
        _samples.Take(block.Samples);
        int from = (int)Math.Clamp(_track.StartFrame - firstFrame, 0, block.Frames);
        int to = (int)Math.Clamp(_track.EndFrame - firstFrame, 0, block.Frames);
        if (from < to)
        {
            _loudness.Add(Heard(_samples.Samples[(from * _samples.Channels)..(to * _samples.Channels)]));
            foreach (Output output in _outputs.Where(o => o.RateHz == _format.SampleRateHz))
            {
                ReadOnlySpan<byte> words = output.Shape switch
                {
                    Shape.Captured => block.Words,
                    Shape.Words24 => _samples.Words24(),
                    _ => _samples.Words16(),
                };
                int frameBytes = words.Length / block.Frames;
                output.Encoder.Write(words[(from * frameBytes)..(to * frameBytes)]);
            }
        }

        foreach ((int rateHz, ChangedRate changed) in _changed)
        {
            Write(rateHz, changed, changed.Change.Take(_samples.Samples));
        }
    }

    /// <summary>Ends the encoders and checks that they succeeded.</summary>
    public TrackCopies Finish()
    {
        foreach ((int rateHz, ChangedRate changed) in _changed)
        {
            Write(rateHz, changed, changed.Change.End());
        }

        ImmutableArray<TrackCopy>.Builder files = ImmutableArray.CreateBuilder<TrackCopy>();
        foreach (Output output in _outputs)
        {
            output.Encoder.Finish();
            files.Add(new TrackCopy(output.Format, output.Path));
        }

        return new TrackCopies(files.ToImmutable(), _loudness.IntegratedLufs(), _loudness.SamplePeak, _format.SampleRateHz, LoudnessBlocks.Of(_loudness));
    }

    public void Dispose()
    {
        foreach (Output output in _outputs)
        {
            output.Encoder.Dispose();
        }
    }

    private static ChildEncoder Start(string kind, CodecTools codecs, ListeningOptions options, PcmSpec pcm, string path) => kind switch
    {
        "flac" => ChildEncoder.Flac(codecs, pcm, path, options.FlacLevel, compareMd5: false),
        "mp3" => ChildEncoder.Mp3(codecs, pcm, path, options.Mp3Kbps is { } kbps ? Mp3Settings.Cbr(kbps) : Mp3Settings.Vbr(options.Mp3Quality)),
        "opus" => ChildEncoder.Opus(codecs, pcm, path, options.OpusKbps * pcm.Channels / 2),
        "ogg" => ChildEncoder.Vorbis(codecs, pcm, path, options.VorbisQuality),
        _ => throw new InvalidOperationException($"'{kind}' was let through by the configuration check."),
    };

    // Whatever an encoder takes as captured, it gets so; what it doesn't take is brought to the most it takes.
    private Shape ShapeFor(string kind, ListeningOptions options, int rateHz)
    {
        bool is16 = _format.IsInteger && _format.Words == WordFormat.Int16;
        bool captured = _samples.AsCaptured && rateHz == _format.SampleRateHz;
        return kind switch
        {
            "flac" when options.FlacBits == 16 && !(captured && is16) => Shape.Words16,
            "flac" when is16 && rateHz != _format.SampleRateHz => Shape.Words16,
            "flac" when options.FlacBits == 24 && captured && _format.BitsPerSample > 24 => Shape.Words24,
            "ogg" => captured && is16 ? Shape.Captured : Shape.Words16,
            "opus" => captured && _format.Words is WordFormat.Int16 or WordFormat.Int24 ? Shape.Captured : Shape.Words24,
            _ => captured ? Shape.Captured : Shape.Words24,
        };
    }

    private PcmSpec Pcm(Shape shape, int rateHz) => shape switch
    {
        Shape.Captured => new PcmSpec(_format.Words, _format.BitsPerSample, _format.SampleRateHz, _format.Channels),
        Shape.Words24 => new PcmSpec(WordFormat.Int24, 24, rateHz, _samples.Channels),
        _ => new PcmSpec(WordFormat.Int16, 16, rateHz, _samples.Channels),
    };

    private void Write(int rateHz, ChangedRate changed, ReadOnlySpan<float> samples)
    {
        if (samples.IsEmpty)
        {
            return;
        }

        changed.Words.Renew();
        foreach (Output output in _outputs.Where(o => o.RateHz == rateHz))
        {
            output.Encoder.Write(output.Shape == Shape.Words16 ? changed.Words.Of16(samples) : changed.Words.Of24(samples));
        }
    }

    private ReadOnlySpan<float> Heard(ReadOnlySpan<float> samples)
    {
        if (!_forBothEars)
        {
            return samples;
        }

        if (_doubled.Length < 2 * samples.Length)
        {
            _doubled = new float[2 * samples.Length];
        }

        for (int i = 0; i < samples.Length; i++)
        {
            _doubled[2 * i] = samples[i];
            _doubled[(2 * i) + 1] = samples[i];
        }

        return _doubled.AsSpan(0, 2 * samples.Length);
    }

    private sealed record Output(string Format, string Path, Shape Shape, int RateHz, ChildEncoder Encoder);

    private sealed record ChangedRate(RateChange Change)
    {
        public SampleWords Words { get; } = new();
    }
}
