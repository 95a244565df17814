using System.Diagnostics;
using Station.Audio.Reading;
using Station.Evaluation.Judging;
using Station.Evaluation.Signal;

namespace Station.Evaluation.Disc;

/// <summary>The analogue to digital converter: dither, rounding, its ceiling; and its words in blocks.</summary>
public static class Converter
{
    /// <summary>Frames of a block.</summary>
    public const int BlockFrames = 4096;

    /// <summary>The largest value a converter of so many bits hands on, full scale 1.0.</summary>
    public static float Ceiling(int bits) => (float)((Math.Pow(2, bits - 1) - 1) / Math.Pow(2, bits - 1));

    /// <summary>Converts in place: samples become multiples of a step, between −1 and the ceiling.</summary>
    public static void Convert(StereoSignal signal, int bits, bool dither, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(signal);
        ArgumentNullException.ThrowIfNull(random);
        double full = Math.Pow(2, bits - 1);
        foreach (float[] channel in (float[][])[signal.Left, signal.Right])
        {
            for (int i = 0; i < channel.Length; i++)
            {
                double value = channel[i] * full;
                if (dither)
                {
                    ulong draw = random.NextBits();
                    value += ((uint)draw - (double)(uint)(draw >> 32)) / uint.MaxValue;
                }

                channel[i] = (float)(Math.Clamp(Math.Round(value), -full, full - 1) / full);
            }
        }
    }

    /// <summary>The container's view of a side.</summary>
    public static CaptureFormat Format(StereoSignal signal, WordFormat words)
    {
        ArgumentNullException.ThrowIfNull(signal);
        return new CaptureFormat
        {
            Container = "wav",
            Words = words,
            SampleRateHz = signal.SampleRateHz,
            BitsPerSample = words switch { WordFormat.Int16 => 16, WordFormat.Int24 => 24, WordFormat.Float32 => 32, _ => throw new UnreachableException() },
            Channels = 2,
            Frames = signal.Frames,
        };
    }

    /// <summary>The side block by block. A block is valid until the next.</summary>
    public static IEnumerable<EvaluationBlock> Blocks(StereoSignal signal, WordFormat words)
    {
        ArgumentNullException.ThrowIfNull(signal);
        int width = words switch { WordFormat.Int16 => 2, WordFormat.Int24 => 3, _ => 4 };
        float[] samples = new float[BlockFrames * 2];
        byte[] bytes = new byte[BlockFrames * 2 * width];
        for (int at = 0; at < signal.Frames; at += BlockFrames)
        {
            int frames = Math.Min(BlockFrames, signal.Frames - at);
            for (int i = 0; i < frames; i++)
            {
                samples[2 * i] = signal.Left[at + i];
                samples[(2 * i) + 1] = signal.Right[at + i];
            }

            for (int i = 0; i < frames * 2; i++)
            {
                Span<byte> word = bytes.AsSpan(i * width, width);
                switch (words)
                {
                    case WordFormat.Int16:
                        BitConverter.TryWriteBytes(word, (short)(samples[i] * 32768));
                        break;
                    case WordFormat.Int24:
                        int code = (int)(samples[i] * 8388608);
                        word[0] = (byte)(code & 0xFF);
                        word[1] = (byte)((code >> 8) & 0xFF);
                        word[2] = (byte)((code >> 16) & 0xFF);
                        break;
                    default:
                        BitConverter.TryWriteBytes(word, samples[i]);
                        break;
                }
            }

            yield return new EvaluationBlock(at, bytes.AsMemory(0, frames * 2 * width), samples.AsMemory(0, frames * 2));
        }
    }
}
