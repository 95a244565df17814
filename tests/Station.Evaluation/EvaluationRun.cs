using System.Diagnostics;
using System.Globalization;
using Station.Audio.Reading;
using Station.Evaluation.Disc;
using Station.Evaluation.Judging;
using Station.Evaluation.Music;
using Station.Evaluation.Scoring;

namespace Station.Evaluation;

/// <summary>Makes the sides, has them judged, scores them.</summary>
public sealed class EvaluationRun
{
    private readonly EvaluationOptions _options;
    private readonly SideFactory _factory;
    private readonly IReadOnlyList<ulong> _seeds;
    private readonly int _tracks;
    private readonly IReadOnlyList<NoiseModel> _models;
    private readonly KeptSides? _kept;

    /// <summary>Opens the music.</summary>
    public EvaluationRun(EvaluationOptions options, Action<string> say)
    {
        ArgumentNullException.ThrowIfNull(options);
        _options = options;
        _kept = options.Keep is { } folder ? new KeptSides(Path.Combine([folder, .. options.Noise.Select(m => m.ToString())]), options.Seconds) : null;
        IMusicSource music = options.StandIn ? new StandInMusic() : MusicLibrary.Open(options.Cache, options.Set, say);
        _tracks = music.Tracks.Count;

        _models = options.NoiseModels;
        _factory = new SideFactory(music, _models, options.Set.ToString());
        _seeds = options.SideSeeds;
    }

    /// <summary>Runs everything and gives the table.</summary>
    public Table Evaluate(Action<string> say)
    {
        ArgumentNullException.ThrowIfNull(say);
        IReadOnlyList<SideOrder> orders = SideOrder.All(_options, _seeds);
        LoopResult<SideScore> loop = SideLoop.Run([.. orders.Select(order => order.Name)], _options.Jobs, i => One(orders[i], say), say);
        IReadOnlyList<SideScore> made = loop.Made;
        RowSummary[] rows = [.. orders.Zip(loop.Results).Where(p => p.Second is not null).GroupBy(p => (p.First.Class, p.First.Row)).Select(g => new RowSummary(g.Key.Class, g.Key.Row.Name, g.Key.Row.Must, [.. g.Select(p => p.Second).OfType<SideScore>()]))];
        return new Table(rows, orders.Count - made.Count, new Dictionary<string, string>(StringComparer.Ordinal)
        {
            ["set"] = _options.StandIn ? "stand-in music: not a table" : _options.Set.ToString().ToLowerInvariant(),
            ["tracks"] = _tracks.ToString(CultureInfo.InvariantCulture),
            ["noise models"] = string.Join(", ", _models),
            ["seeds"] = string.Join(", ", _seeds),
            ["sides"] = string.Create(CultureInfo.InvariantCulture, $"{made.Count}, {made.Average(s => s.SideSeconds):0} s long on average; {orders.Count - made.Count} could not be made"),
            ["time per side"] = string.Create(CultureInfo.InvariantCulture, $"making {made.Average(s => s.MakeSeconds):0.0} s, judging {made.Average(s => s.JudgeSeconds):0.0} s"),
            ["whole run"] = string.Create(CultureInfo.InvariantCulture, $"{loop.Wall.TotalMinutes:0.0} min, {loop.Cpu.TotalSeconds / made.Count:0.0} s of CPU per side"),
        });
    }

    /// <summary>Writes one side of the tuning set as a WAV.</summary>
    /// <param name="name">As in the JSON: class/row/number/seed.</param>
    /// <param name="file">Written over when it exists.</param>
    /// <returns>What was planted, in words.</returns>
    /// <exception cref="ArgumentException">No such side, or the counting set.</exception>
    public string Write(string name, string file)
    {
        if (_options.Set != MusicSet.Tuning)
        {
            throw new ArgumentException("Sides of the counting set are not written: nobody is to look at them.");
        }

        IReadOnlyList<SideOrder> orders = SideOrder.All(_options with { Sides = 2000, Clean = 20000, Classes = [name.Split('/')[0]] }, _seeds);
        SideOrder order = orders.FirstOrDefault(o => string.Equals(o.Name, name, StringComparison.Ordinal)) ?? throw new ArgumentException($"There is no side {name}.");
        Side side = Make(order);
        WaveFile.Write(file, side.Capture, side.Recipe.Words);
        string spans = string.Join(", ", side.Truth.Spans.Take(20).Select(s => string.Create(CultureInfo.InvariantCulture, $"{s.FromSeconds:0.0000}–{s.ToSeconds:0.0000}")));
        return $"{string.Join('/', side.Truth.Codes)} channel {side.Truth.Channel?.ToString(CultureInfo.InvariantCulture) ?? "any"} at {spans} s; {string.Join(", ", side.Truth.Figures)}";
    }

    private Side Make(SideOrder order)
    {
        bool clean = string.Equals(order.Class, "clean", StringComparison.Ordinal);
        return _factory.Make(order.Row, $"{order.Class}/{order.Row.Name}/{order.Index}", order.Seed, _options.Seconds, _options.Seconds * (clean ? 1.8 : 1.25));
    }

    private KeptSide Made(SideOrder order)
    {
        Side side = Make(order);
        var made = new KeptSide(side.Capture, side.Recipe.Words, side.Truth, side.Sheet);
        _kept?.Keep(order.Name, made);
        return made;
    }

    private SideScore One(SideOrder order, Action<string> say)
    {
        long start = Stopwatch.GetTimestamp();
        KeptSide side = _kept?.Find(order.Name) ?? Made(order);
        TimeSpan made = Stopwatch.GetElapsedTime(start);
        start = Stopwatch.GetTimestamp();
        CaptureFormat format = Converter.Format(side.Capture, side.Words);
        JudgedSide judged;
        try
        {
            judged = JudgeUnderTest.Judge(format, Converter.Blocks(side.Capture, side.Words), side.Sheet);
        }
        catch (Exception fault)
        {
            // A judge that throws loses the side: a miss, and as bad as a needless retake.
            say($"the judge threw on {order.Name}: {fault}");
            judged = new JudgedSide([new ReportedFinding("judge-threw", ReportedSeverity.Retake, null, [], null)], new Dictionary<string, double>(StringComparer.Ordinal));
        }

        TimeSpan judging = Stopwatch.GetElapsedTime(start);
        return Scorer.Score(order.Name, side.Truth, judged) with
        {
            MakeSeconds = made.TotalSeconds,
            JudgeSeconds = judging.TotalSeconds,
            SideSeconds = format.DurationSeconds,
        };
    }
}
