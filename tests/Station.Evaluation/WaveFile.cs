using System.Text;
using Station.Audio.Reading;
using Station.Evaluation.Disc;
using Station.Evaluation.Judging;
using Station.Evaluation.Signal;

namespace Station.Evaluation;

/// <summary>Writes a side as a plain WAV, for listening.</summary>
public static class WaveFile
{
    /// <summary>Writes 16-bit, 24-bit or float words.</summary>
    public static void Write(string file, StereoSignal signal, WordFormat words)
    {
        ArgumentNullException.ThrowIfNull(signal);
        int width = words == WordFormat.Int16 ? 2 : words == WordFormat.Int24 ? 3 : 4;
        using var writer = new BinaryWriter(File.Create(file), System.Text.Encoding.ASCII);
        int bytes = signal.Frames * 2 * width;
        writer.Write(Encoding.ASCII.GetBytes("RIFF"));
        writer.Write(36 + bytes);
        writer.Write(Encoding.ASCII.GetBytes("WAVEfmt "));
        writer.Write(16);
        writer.Write((short)(words == WordFormat.Float32 ? 3 : 1));
        writer.Write((short)2);
        writer.Write(signal.SampleRateHz);
        writer.Write(signal.SampleRateHz * 2 * width);
        writer.Write((short)(2 * width));
        writer.Write((short)(8 * width));
        writer.Write(Encoding.ASCII.GetBytes("data"));
        writer.Write(bytes);
        foreach (EvaluationBlock block in Converter.Blocks(signal, words))
        {
            writer.Write(block.Words.Span);
        }
    }
}
