using System.Buffers.Binary;
using System.Runtime.InteropServices;
using Station.Audio.Reading;
using Station.Daemon.Records;

namespace Station.Daemon.Listening;

/// <summary>
/// One track's frames in the shapes its encoders want them: as captured where nothing is done to them, or mixed, raised and rounded to 24 or 16 bits.
/// </summary>
/// <remarks>
/// Rounding to 16 bits adds triangular dither of two steps' width (S. P. Lipshitz, R. A. Wannamaker, J. Vanderkooy, "Quantization and Dither: A Theoretical Survey",
/// J. Audio Eng. Soc. 40(5), 1992; from memory), drawn from a fixed seed: the same track gives the same bytes again. 24 bits lie below the noise of any disc and get none.
/// </remarks>
internal sealed class CopySamples(CaptureFormat format, CopyMaking making)
{
    private const float Scale24 = 8_388_608;
    private const float Scale16 = 32_768;

    private readonly float _gain = (float)Math.Pow(10, making.GainDb / 20);
    private float[] _made = [];
    private byte[] _words24 = [];
    private byte[] _words16 = [];
    private int _samples;
    private bool _has24;
    private bool _has16;
    private ulong _random = 0x9E37_79B9_7F4A_7C15;

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

        _has24 = false;
        _has16 = false;
    }

    /// <summary>The frames taken last as 24-bit words, held within full scale.</summary>
    public ReadOnlySpan<byte> Words24()
    {
        if (!_has24)
        {
            Fit(ref _words24, 3 * _samples);
            Span<byte> word = stackalloc byte[4];
            for (int i = 0; i < _samples; i++)
            {
                BinaryPrimitives.WriteInt32LittleEndian(word, (int)Math.Clamp(MathF.Round(Finite(_made[i]) * Scale24), -Scale24, Scale24 - 1));
                word[..3].CopyTo(_words24.AsSpan(3 * i));
            }

            _has24 = true;
        }

        return _words24.AsSpan(0, 3 * _samples);
    }

    /// <summary>The frames taken last as 16-bit words, dithered, held within full scale.</summary>
    public ReadOnlySpan<byte> Words16()
    {
        if (!_has16)
        {
            Fit(ref _words16, 2 * _samples);
            Span<short> words = MemoryMarshal.Cast<byte, short>(_words16.AsSpan(0, 2 * _samples));
            for (int i = 0; i < _samples; i++)
            {
                double dither = Uniform() - Uniform();
                words[i] = (short)Math.Clamp(Math.Round((Finite(_made[i]) * Scale16) + dither), -Scale16, Scale16 - 1);
            }

            _has16 = true;
        }

        return _words16.AsSpan(0, 2 * _samples);
    }

    private static float Finite(float sample) => float.IsNaN(sample) ? 0 : sample;

    private static void Fit(ref byte[] buffer, int bytes)
    {
        if (buffer.Length < bytes)
        {
            buffer = new byte[bytes];
        }
    }

    // xorshift64* (S. Vigna, "An experimental exploration of Marsaglia's xorshift generators, scrambled", ACM TOMS 42(4), 2016; from memory): 0 up to 1.
    private double Uniform()
    {
        _random ^= _random >> 12;
        _random ^= _random << 25;
        _random ^= _random >> 27;
        return ((_random * 0x2545_F491_4F6C_DD1D) >> 11) * (1.0 / (1UL << 53));
    }
}
