using System.Buffers.Binary;
using System.Runtime.InteropServices;

namespace Station.Daemon.Listening;

/// <summary>Floats in the words encoders take: 24 bits rounded, 16 bits dithered, each made when it is first asked for.</summary>
/// <remarks>
/// Rounding to 16 bits adds triangular dither of two steps' width (S. P. Lipshitz, R. A. Wannamaker, J. Vanderkooy, "Quantization and Dither: A Theoretical Survey",
/// J. Audio Eng. Soc. 40(5), 1992; from memory), drawn from a fixed seed: the same track gives the same bytes again. 24 bits lie below the noise of any disc and get none.
/// </remarks>
internal sealed class SampleWords
{
    private const float Scale24 = 8_388_608;
    private const float Scale16 = 32_768;

    private byte[] _words24 = [];
    private byte[] _words16 = [];
    private bool _has24;
    private bool _has16;
    private ulong _random = 0x9E37_79B9_7F4A_7C15;

    /// <summary>To be called when there are new samples.</summary>
    public void Renew() => (_has24, _has16) = (false, false);

    /// <summary>24-bit words, held within full scale.</summary>
    /// <param name="samples">Full scale 1; the same until <see cref="Renew"/>.</param>
    public ReadOnlySpan<byte> Of24(ReadOnlySpan<float> samples)
    {
        if (!_has24)
        {
            Fit(ref _words24, 3 * samples.Length);
            Span<byte> word = stackalloc byte[4];
            for (int i = 0; i < samples.Length; i++)
            {
                BinaryPrimitives.WriteInt32LittleEndian(word, (int)Math.Clamp(MathF.Round(Finite(samples[i]) * Scale24), -Scale24, Scale24 - 1));
                word[..3].CopyTo(_words24.AsSpan(3 * i));
            }

            _has24 = true;
        }

        return _words24.AsSpan(0, 3 * samples.Length);
    }

    /// <summary>16-bit words, dithered, held within full scale.</summary>
    /// <inheritdoc cref="Of24"/>
    public ReadOnlySpan<byte> Of16(ReadOnlySpan<float> samples)
    {
        if (!_has16)
        {
            Fit(ref _words16, 2 * samples.Length);
            Span<short> words = MemoryMarshal.Cast<byte, short>(_words16.AsSpan(0, 2 * samples.Length));
            for (int i = 0; i < samples.Length; i++)
            {
                double dither = Uniform() - Uniform();
                words[i] = (short)Math.Clamp(Math.Round((Finite(samples[i]) * Scale16) + dither), -Scale16, Scale16 - 1);
            }

            _has16 = true;
        }

        return _words16.AsSpan(0, 2 * samples.Length);
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
