using System.Buffers.Binary;

namespace Station.Audio.Synthesis;

/// <summary>
/// The converter's full scale. A sample at or beyond it gives exactly the full-scale code, every other sample a smaller one: neither
/// rounding nor dither takes an unclipped sample to full scale, so that codes at full scale are clipped samples and nothing else.
/// </summary>
internal readonly struct Converter
{
    private readonly double _scale;

    public Converter(int bitsPerSample)
    {
        Bits = bitsPerSample;
        _scale = 1 << (bitsPerSample - 1);
        Highest = (float)((_scale - 1) / _scale);
    }

    public int Bits { get; }

    /// <summary>The highest code as a float; the lowest is −1.</summary>
    public float Highest { get; }

    /// <summary>1 at or beyond the highest code, −1 at or beyond the lowest, else 0.</summary>
    public int ClipSign(float sample) => sample >= Highest ? 1 : sample <= -1 ? -1 : 0;

    public float Clip(float sample) => Math.Clamp(sample, -1f, Highest);

    /// <summary>Writes little-endian words: 16 bits with triangular dither of ±1 step, 24 bits rounded.</summary>
    /// <returns>Bytes written.</returns>
    public int Quantise(ReadOnlySpan<float> clipped, Span<byte> words, ref SeededRandom dither)
    {
        int highest = (int)_scale - 1;
        int at = 0;
        foreach (float sample in clipped)
        {
            double scaled = sample * _scale;
            int code;
            if (Bits == 16)
            {
                dither.BipolarPair(out float a, out float b);
                scaled += 0.5 * (a + b);
            }

            int clip = ClipSign(sample);
            code = clip > 0 ? highest : clip < 0 ? -highest - 1 : Math.Clamp((int)Math.Floor(scaled + 0.5), -highest, highest - 1);
            if (Bits == 16)
            {
                BinaryPrimitives.WriteInt16LittleEndian(words[at..], (short)code);
                at += 2;
            }
            else
            {
                words[at] = (byte)code;
                words[at + 1] = (byte)(code >> 8);
                words[at + 2] = (byte)(code >> 16);
                at += 3;
            }
        }

        return at;
    }
}
