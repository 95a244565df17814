using System.Collections.Immutable;
using Station.Audio.Encoding;
using Station.Audio.Meters;
using Station.Audio.Reading;

namespace Station.Daemon.Listening;

/// <summary>Feeds one track's frames to an encoder per format and to the loudness meter.</summary>
internal sealed class TrackEncoder : IDisposable
{
    private readonly List<(string Format, string Path, Shape Shape, ChildEncoder Encoder)> _encoders = [];
    private readonly LoudnessMeter _loudness;
    private readonly CaptureFormat _format;
    private readonly CopySamples _samples;
    private readonly bool _forBothEars;
    private float[] _doubled = [];

    /// <param name="stem">Path without extension; existing files are replaced.</param>
    public TrackEncoder(CodecTools codecs, ListeningOptions options, CaptureFormat format, CopyMaking making, string stem)
    {
        _format = format;
        _samples = new CopySamples(format, making);
        _forBothEars = making.Mono is not null;

        // One channel is heard from two loudspeakers, so its loudness is that of the same sound in both (EBU Tech 3343 on mono programmes, from memory).
        _loudness = new LoudnessMeter(format.SampleRateHz, _forBothEars ? 2 : format.Channels);
        try
        {
            foreach (string kind in options.Formats.Distinct(StringComparer.Ordinal))
            {
                string path = $"{stem}.{kind}";
                Shape shape = ShapeFor(kind, options);
                _encoders.Add((kind, path, shape, Start(kind, codecs, options, Pcm(shape), path)));
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

    /// <summary>Takes some frames of a block.</summary>
    public void Write(in CaptureBlock block, int firstFrame, int frames)
    {
        _samples.Take(block.Samples.Slice(firstFrame * block.Channels, frames * block.Channels));
        _loudness.Add(Heard());
        foreach ((_, _, Shape shape, ChildEncoder encoder) in _encoders)
        {
            encoder.Write(shape switch
            {
                Shape.Captured => block.Words.Slice(firstFrame * _format.BytesPerFrame, frames * _format.BytesPerFrame),
                Shape.Words24 => _samples.Words24(),
                _ => _samples.Words16(),
            });
        }
    }

    /// <summary>Ends the encoders and checks that they succeeded.</summary>
    public TrackCopies Finish()
    {
        ImmutableArray<TrackCopy>.Builder files = ImmutableArray.CreateBuilder<TrackCopy>();
        foreach ((string kind, string path, _, ChildEncoder encoder) in _encoders)
        {
            encoder.Finish();
            files.Add(new TrackCopy(kind, path));
        }

        return new TrackCopies(files.ToImmutable(), _loudness.IntegratedLufs(), _loudness.SamplePeak, _format.SampleRateHz, LoudnessBlocks.Of(_loudness));
    }

    public void Dispose()
    {
        foreach ((_, _, _, ChildEncoder encoder) in _encoders)
        {
            encoder.Dispose();
        }
    }

    private static ChildEncoder Start(string kind, CodecTools codecs, ListeningOptions options, PcmSpec pcm, string path) => kind switch
    {
        "flac" => ChildEncoder.Flac(codecs, pcm, path, options.FlacLevel),
        "mp3" => ChildEncoder.Mp3(codecs, pcm, path, options.Mp3Kbps is { } kbps ? Mp3Settings.Cbr(kbps) : Mp3Settings.Vbr(options.Mp3Quality)),
        "opus" => ChildEncoder.Opus(codecs, pcm, path, options.OpusKbps * pcm.Channels / 2),
        "ogg" => ChildEncoder.Vorbis(codecs, pcm, path, options.VorbisQuality),
        _ => throw new InvalidOperationException($"'{kind}' was let through by the configuration check."),
    };

    // Whatever an encoder takes as captured, it gets so; what it doesn't take is brought to the most it takes.
    private Shape ShapeFor(string kind, ListeningOptions options)
    {
        bool is16 = _format.IsInteger && _format.Words == WordFormat.Int16;
        bool captured = _samples.AsCaptured;
        return kind switch
        {
            "flac" when options.FlacBits == 16 && !(captured && is16) => Shape.Words16,
            "flac" when options.FlacBits == 24 && captured && _format.BitsPerSample > 24 => Shape.Words24,
            "ogg" => captured && is16 ? Shape.Captured : Shape.Words16,
            "opus" => captured && _format.Words is WordFormat.Int16 or WordFormat.Int24 ? Shape.Captured : Shape.Words24,
            _ => captured ? Shape.Captured : Shape.Words24,
        };
    }

    private PcmSpec Pcm(Shape shape) => shape switch
    {
        Shape.Captured => new PcmSpec(_format.Words, _format.BitsPerSample, _format.SampleRateHz, _format.Channels),
        Shape.Words24 => new PcmSpec(WordFormat.Int24, 24, _format.SampleRateHz, _samples.Channels),
        _ => new PcmSpec(WordFormat.Int16, 16, _format.SampleRateHz, _samples.Channels),
    };

    private ReadOnlySpan<float> Heard()
    {
        ReadOnlySpan<float> samples = _samples.Samples;
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
}
