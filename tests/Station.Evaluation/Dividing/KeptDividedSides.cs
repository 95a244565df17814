using System.Text;
using System.Text.Json;
using Station.Audio.Reading;
using Station.Evaluation.Signal;

namespace Station.Evaluation.Dividing;

/// <summary>
/// Sides of the tuning set kept in a folder as WAV with their truth beside, so that whoever tunes a division need not wait for the same side to be made
/// again. A side's name stands for it, bit for bit; after a change to the generator the folder must be emptied by hand.
/// </summary>
/// <param name="folder">Made when absent.</param>
public sealed class KeptDividedSides(string folder)
{
    private const int HeaderBytes = 44;

    /// <summary>The side when it was kept before; null otherwise.</summary>
    public DividedSide? Find(string name)
    {
        string file = PathOf(name);
        if (!File.Exists(file + ".json"))
        {
            return null;
        }

        Papers papers = JsonSerializer.Deserialize<Papers>(File.ReadAllText(file + ".json")) ?? throw new InvalidDataException($"{file}.json: empty.");
        byte[] words = File.ReadAllBytes(file + ".wav");
        int width = papers.Words == WordFormat.Int16 ? 2 : 3;
        var capture = new StereoSignal((words.Length - HeaderBytes) / (2 * width), papers.SampleRateHz);
        for (int i = 0; i < capture.Frames; i++)
        {
            int at = HeaderBytes + (2 * width * i);
            capture.Left[i] = Sample(words, at, width);
            capture.Right[i] = Sample(words, at + width, width);
        }

        return new DividedSide(capture, papers.Words, papers.Truth);
    }

    /// <summary>Keeps a side. Several processes may keep the same one: the papers' name is the commit.</summary>
    public void Keep(string name, DividedSide side)
    {
        ArgumentNullException.ThrowIfNull(side);
        Directory.CreateDirectory(folder);
        string file = PathOf(name);
        string part = $"{file}.{Environment.ProcessId}";
        WaveFile.Write(part, side.Capture, side.Words);

        // Nothing here is worth a flush: what is lost is made again.
#pragma warning disable RS0030
        File.Move(part, file + ".wav", overwrite: true);
        File.WriteAllText(part, JsonSerializer.Serialize(new Papers(side.Capture.SampleRateHz, side.Words, side.Truth)));
        File.Move(part, file + ".json", overwrite: true);
#pragma warning restore RS0030
    }

    private static float Sample(byte[] words, int at, int width) => width == 2
        ? (short)(words[at] | (words[at + 1] << 8)) / 32768f
        : ((words[at] << 8) | (words[at + 1] << 16) | (words[at + 2] << 24)) / 2147483648f;

    private string PathOf(string name)
    {
        var text = new StringBuilder();
        foreach (char c in name)
        {
            text.Append(char.IsLetterOrDigit(c) || c == '-' ? c : '_');
        }

        return Path.Combine(folder, text.ToString());
    }

    private sealed record Papers(int SampleRateHz, WordFormat Words, DividedTruth Truth);
}
