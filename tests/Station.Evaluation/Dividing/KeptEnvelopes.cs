using System.Text;
using System.Text.Json;
using System.Text.Json.Serialization;
using Station.Audio.Meters;
using Station.Evaluation.Judging;

namespace Station.Evaluation.Dividing;

/// <summary>
/// The level envelopes of the tuning set's sides kept in a folder with their truth beside, so that whoever tunes a division waits for neither the side
/// nor its measurement: a megabyte and some milliseconds each. After a change to the generator or to what the envelope holds the folder must be emptied by hand.
/// </summary>
/// <param name="folder">Made when absent.</param>
public sealed class KeptEnvelopes(string folder)
{
    private static readonly JsonSerializerOptions Json = new() { NumberHandling = JsonNumberHandling.AllowNamedFloatingPointLiterals };

    /// <summary>The side when it was kept before; null otherwise.</summary>
    public MeasuredSide? Find(string name)
    {
        string file = PathOf(name);
        if (!File.Exists(file + ".json"))
        {
            return null;
        }

        Papers papers = JsonSerializer.Deserialize<Papers>(File.ReadAllText(file + ".json"), Json) ?? throw new InvalidDataException($"{file}.json: empty.");
        using FileStream stream = File.OpenRead(file + ".envelope");
        return new MeasuredSide(LevelEnvelope.Read(stream), papers.Truth, papers.Naive.ToDictionary(n => n.Dbfs, n => n.Found));
    }

    /// <summary>Keeps a side. Several processes may keep the same one: the papers' name is the commit.</summary>
    public void Keep(string name, MeasuredSide side)
    {
        ArgumentNullException.ThrowIfNull(side);
        Directory.CreateDirectory(folder);
        string file = PathOf(name);
        string part = $"{file}.{Environment.ProcessId}";
        using (FileStream stream = File.Create(part))
        {
            side.Envelope.Write(stream);
        }

        // Nothing here is worth a flush: what is lost is made again.
#pragma warning disable RS0030
        File.Move(part, file + ".envelope", overwrite: true);
        File.WriteAllText(part, JsonSerializer.Serialize(new Papers(side.Truth, [.. side.Naive.Select(n => new NaiveDivision(n.Key, n.Value))]), Json));
        File.Move(part, file + ".json", overwrite: true);
#pragma warning restore RS0030
    }

    private string PathOf(string name)
    {
        var text = new StringBuilder();
        foreach (char c in name)
        {
            text.Append(char.IsLetterOrDigit(c) || c == '-' ? c : '_');
        }

        return Path.Combine(folder, text.ToString());
    }

    private sealed record NaiveDivision(double Dbfs, FoundDivision Found);

    private sealed record Papers(DividedTruth Truth, IReadOnlyList<NaiveDivision> Naive);
}
