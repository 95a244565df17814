using System.Buffers.Binary;
using System.Collections.Immutable;
using Station.Audio.Encoding;
using Station.Audio.Meters;
using Station.Audio.Reading;

namespace Station.Daemon.Listening;

/// <summary>Feeds one track's frames to an encoder per format and to the loudness meter.</summary>
internal sealed class TrackEncoder : IDisposable
{
    private readonly List<(string Format, string Path, ChildEncoder Encoder)> _encoders = [];
    private readonly LoudnessMeter _loudness;
    private readonly CaptureFormat _format;
    private byte[] _converted = [];

    /// <param name="stem">Path without extension; existing files are replaced.</param>
    public TrackEncoder(CodecTools codecs, ListeningOptions options, CaptureFormat format, string stem)
    {
        _format = format;
        _loudness = new LoudnessMeter(format.SampleRateHz, format.Channels);
        PcmSpec pcm = format.IsInteger
            ? new PcmSpec(format.Words, format.BitsPerSample, format.SampleRateHz, format.Channels)
            : new PcmSpec(WordFormat.Int24, 24, format.SampleRateHz, format.Channels);
        try
        {
            foreach (string kind in options.Formats.Distinct(StringComparer.Ordinal))
            {
                string path = $"{stem}.{kind}";
                _encoders.Add((kind, path, kind switch
                {
                    "flac" => ChildEncoder.Flac(codecs, pcm, path, options.FlacLevel),
                    "mp3" => ChildEncoder.Mp3(codecs, pcm, path, Mp3Settings.Vbr(options.Mp3Quality)),
                    _ => throw new InvalidOperationException($"'{kind}' was let through by the configuration check."),
                }));
            }
        }
        catch
        {
            Dispose();
            throw;
        }
    }

    /// <summary>Takes some frames of a block.</summary>
    public void Write(in CaptureBlock block, int firstFrame, int frames)
    {
        ReadOnlySpan<float> samples = block.Samples.Slice(firstFrame * block.Channels, frames * block.Channels);
        _loudness.Add(samples);
        ReadOnlySpan<byte> words = _format.IsInteger
            ? block.Words.Slice(firstFrame * _format.BytesPerFrame, frames * _format.BytesPerFrame)
            : ToInt24(samples);
        foreach ((_, _, ChildEncoder encoder) in _encoders)
        {
            encoder.Write(words);
        }
    }

    /// <summary>Ends the encoders and checks that they succeeded.</summary>
    public TrackCopies Finish()
    {
        ImmutableArray<TrackCopy>.Builder files = ImmutableArray.CreateBuilder<TrackCopy>();
        foreach ((string kind, string path, ChildEncoder encoder) in _encoders)
        {
            encoder.Finish();
            files.Add(new TrackCopy(kind, path));
        }

        return new TrackCopies(files.ToImmutable(), _loudness.IntegratedLufs(), _loudness.SamplePeak);
    }

    public void Dispose()
    {
        foreach ((_, _, ChildEncoder encoder) in _encoders)
        {
            encoder.Dispose();
        }
    }

    /// <summary>
    /// Floats become 24-bit integers, rounded and held within full scale; the master keeps the floats. 24 bits lie below the noise of
    /// any disc, so no dither is added.
    /// </summary>
    private ReadOnlySpan<byte> ToInt24(ReadOnlySpan<float> samples)
    {
        if (_converted.Length < samples.Length * 3)
        {
            _converted = new byte[samples.Length * 3];
        }

        Span<byte> word = stackalloc byte[4];
        for (int i = 0; i < samples.Length; i++)
        {
            float sample = float.IsNaN(samples[i]) ? 0 : samples[i];
            int value = (int)Math.Clamp(MathF.Round(sample * 8_388_608f), -8_388_608f, 8_388_607f);
            BinaryPrimitives.WriteInt32LittleEndian(word, value);
            word[..3].CopyTo(_converted.AsSpan(i * 3));
        }

        return _converted.AsSpan(0, samples.Length * 3);
    }
}
