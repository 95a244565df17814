using System.Text;
using System.Text.Json;
using Station.Audio.Reading;
using Station.Evaluation.Disc;
using Station.Evaluation.Faults;
using Station.Evaluation.Judging;
using Station.Evaluation.Signal;

namespace Station.Evaluation;

/// <summary>
/// Sides of the tuning set kept in a folder, so that whoever tunes a detector need not wait for the same side to be made again. A side's name
/// and the shortest length asked for stand for it, bit for bit; after a change to the generator the folder must be emptied by hand.
/// </summary>
/// <param name="folder">Made when absent.</param>
/// <param name="seconds">Shortest side, seconds: part of what a side is.</param>
public sealed class KeptSides(string folder, int seconds)
{
    private static readonly JsonSerializerOptions Json = new() { IncludeFields = true };

    /// <summary>The side when it was kept before; null otherwise.</summary>
    public KeptSide? Find(string name)
    {
        string file = PathOf(name);
        if (!File.Exists(file + ".json"))
        {
            return null;
        }

        Papers papers = JsonSerializer.Deserialize<Papers>(File.ReadAllText(file + ".json"), Json) ?? throw new InvalidDataException($"{file}.json: empty.");
        using var reader = new BinaryReader(File.OpenRead(file + ".frames"));
        float[] left = new float[papers.Frames];
        float[] right = new float[papers.Frames];
        reader.BaseStream.ReadExactly(System.Runtime.InteropServices.MemoryMarshal.AsBytes(left.AsSpan()));
        reader.BaseStream.ReadExactly(System.Runtime.InteropServices.MemoryMarshal.AsBytes(right.AsSpan()));
        var capture = new StereoSignal(0, papers.SampleRateHz);
        capture.Replace(left, right);
        return new KeptSide(capture, papers.Words, papers.Truth(), papers.Sheet);
    }

    /// <summary>Keeps a side. Several processes may keep the same one: the papers' name is the commit.</summary>
    public void Keep(string name, KeptSide side)
    {
        ArgumentNullException.ThrowIfNull(side);
        Directory.CreateDirectory(folder);
        string file = PathOf(name);
        string part = $"{file}.{Environment.ProcessId}";
        using (FileStream stream = File.Create(part))
        {
            stream.Write(System.Runtime.InteropServices.MemoryMarshal.AsBytes(side.Capture.Left.AsSpan()));
            stream.Write(System.Runtime.InteropServices.MemoryMarshal.AsBytes(side.Capture.Right.AsSpan()));
        }

        // Nothing here is worth a flush: what is lost is made again.
#pragma warning disable RS0030
        File.Move(part, file + ".frames", overwrite: true);
        File.WriteAllText(part, JsonSerializer.Serialize(Papers.Of(side), Json));
        File.Move(part, file + ".json", overwrite: true);
#pragma warning restore RS0030
    }

    private string PathOf(string name)
    {
        var text = new StringBuilder();
        foreach (char c in name)
        {
            text.Append(char.IsLetterOrDigit(c) ? c : '_');
        }

        return Path.Combine(folder, $"{text}-{seconds}");
    }

    // The truth's own lists have no setters: a flat copy of it is what lies on disk.
    private sealed record Papers(
        int SampleRateHz, int Frames, WordFormat Words, SheetFacts Sheet, string[] Codes, string[] Companions, int? Channel, (double From, double To)[] Spans,
        PositionRule Rule, double PositionTolerance, bool PlaceDecides, TrueFigure[] Figures, ReportedSeverity? AtMost)
    {
        public static Papers Of(KeptSide side) => new(
            side.Capture.SampleRateHz, side.Capture.Frames, side.Words, side.Sheet, [.. side.Truth.Codes], [.. side.Truth.Companions], side.Truth.Channel,
            [.. side.Truth.Spans], side.Truth.Rule, side.Truth.PositionTolerance, side.Truth.PlaceDecides, [.. side.Truth.Figures], side.Truth.AtMost);

        public SideTruth Truth()
        {
            var truth = new SideTruth { Channel = Channel, Rule = Rule, PositionTolerance = PositionTolerance, PlaceDecides = PlaceDecides, AtMost = AtMost };
            truth.Codes.AddRange(Codes);
            truth.Companions.UnionWith(Companions);
            truth.Spans.AddRange(Spans);
            truth.Figures.AddRange(Figures);
            return truth;
        }
    }
}

/// <summary>What of a side the judge and the scorer need.</summary>
/// <param name="Capture">The sound, full scale ±1.</param>
/// <param name="Words">Its words in the file.</param>
/// <param name="Truth">What was planted.</param>
/// <param name="Sheet">What the sheet says.</param>
public sealed record KeptSide(StereoSignal Capture, WordFormat Words, SideTruth Truth, SheetFacts Sheet);
