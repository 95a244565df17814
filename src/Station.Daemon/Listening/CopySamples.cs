using Station.Audio.Reading;
using Station.Daemon.Records;

namespace Station.Daemon.Listening;

/// <summary>
/// One track's frames in the shapes its encoders want them: as captured where nothing is done to them, or mixed, raised and rounded to 24 or 16 bits.
/// </summary>
internal sealed class CopySamples(CaptureFormat format, CopyMaking making)
{
    private readonly SampleWords _words = new();
    private readonly float _gain = (float)Math.Pow(10, making.GainDb / 20);
    private float[] _made = [];
    private int _samples;

    /// <summary>Channels of the copies.</summary>
    public int Channels => making.Mono is null ? format.Channels : 1;

    /// <summary>True when the captured words can be handed on.</summary>
    public bool AsCaptured => making.IsUntouched && format.IsInteger;

    /// <summary>The frames as floats, full scale 1; valid until the next <see cref="Take"/>.</summary>
    public ReadOnlySpan<float> Samples => _made.AsSpan(0, _samples);

    /// <summary>Takes some frames.</summary>
    /// <param name="samples">Interleaved, channels as captured.</param>
    public void Take(ReadOnlySpan<float> samples)
    {
        int frames = samples.Length / format.Channels;
        _samples = frames * Channels;
        if (_made.Length < _samples)
        {
            _made = new float[_samples];
        }

        Span<float> made = _made.AsSpan(0, _samples);
        if (making.Mono is { } mono && format.Channels == 2)
        {
            for (int frame = 0; frame < frames; frame++)
            {
                float left = samples[2 * frame];
                float right = samples[(2 * frame) + 1];
                made[frame] = _gain * (mono switch { MonoSource.Left => left, MonoSource.Right => right, _ => (left + right) / 2 });
            }
        }
        else
        {
            for (int i = 0; i < made.Length; i++)
            {
                made[i] = _gain * samples[i];
            }
        }

        _words.Renew();
    }

    /// <summary>The frames taken last as 24-bit words, held within full scale.</summary>
    public ReadOnlySpan<byte> Words24() => _words.Of24(Samples);

    /// <summary>The frames taken last as 16-bit words, dithered, held within full scale.</summary>
    public ReadOnlySpan<byte> Words16() => _words.Of16(Samples);
}
