using System.Diagnostics;
using System.Globalization;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Evaluation.Disc;
using Station.Evaluation.Judging;
using Station.Evaluation.Music;
using Station.Evaluation.Scoring;

namespace Station.Evaluation.Dividing;

/// <summary>Makes the sides, has them divided, scores the divisions.</summary>
public sealed class DivisionRun
{
    private static readonly double[] NaiveDbfs = [-50, -40];

    private readonly EvaluationOptions _options;
    private readonly DividedSideMaker _maker;
    private readonly IReadOnlyList<ulong> _seeds;
    private readonly IReadOnlyList<NoiseModel> _models;
    private readonly KeptEnvelopes? _kept;

    /// <summary>Opens the music.</summary>
    public DivisionRun(EvaluationOptions options, Action<string> say)
    {
        ArgumentNullException.ThrowIfNull(options);
        _options = options;
        _kept = options.Keep is { } folder ? new KeptEnvelopes(Path.Combine([folder, "division", .. options.Noise.Select(m => m.ToString())])) : null;
        IMusicSource music = options.StandIn ? new StandInMusic() : MusicLibrary.Open(options.Cache, options.Set, say);

        _models = options.NoiseModels;
        _maker = new DividedSideMaker(music, _models, options.Set.ToString());
        _seeds = options.SideSeeds;
    }

    /// <summary>Runs everything and gives the tables.</summary>
    public DivisionTable Evaluate(Action<string> say)
    {
        ArgumentNullException.ThrowIfNull(say);
        IReadOnlyList<DivisionOrder> orders = DivisionOrder.All(_options, _seeds);
        LoopResult<DivisionRow> loop = SideLoop.Run([.. orders.Select(order => order.Name)], _options.Jobs, i => One(orders[i], say), say);
        IReadOnlyList<DivisionRow> made = loop.Made;
        return new DivisionTable(made, orders.Count - made.Count, new Dictionary<string, string>(StringComparer.Ordinal)
        {
            ["set"] = _options.StandIn ? "stand-in music: not a table" : _options.Set.ToString().ToLowerInvariant(),
            ["noise models"] = string.Join(", ", _models),
            ["seeds"] = string.Join(", ", _seeds),
            ["sides"] = string.Create(CultureInfo.InvariantCulture, $"{made.Count}, {made.Average(s => s.SideSeconds):0} s long on average; {orders.Count - made.Count} could not be made, {_maker.Redrawn} were drawn anew"),
            ["time per side"] = string.Create(CultureInfo.InvariantCulture, $"making and measuring {made.Average(s => s.MakeSeconds):0.00} s, dividing {made.Average(s => s.JudgeSeconds):0.00} s"),
            ["whole run"] = string.Create(CultureInfo.InvariantCulture, $"{loop.Wall.TotalMinutes:0.0} min, {loop.Cpu.TotalSeconds / made.Count:0.0} s of CPU per side, decoding of the music not counted"),
        });
    }

    /// <summary>Writes one side of the tuning set as a WAV.</summary>
    /// <param name="name">As in the JSON: class/number/seed.</param>
    /// <param name="file">Written over when it exists.</param>
    /// <returns>Where its tracks are, in words.</returns>
    /// <exception cref="ArgumentException">No such side, or the counting set.</exception>
    public string Write(string name, string file)
    {
        if (_options.Set != MusicSet.Tuning)
        {
            throw new ArgumentException("Sides of the counting set are not written: nobody is to look at them.");
        }

        IReadOnlyList<DivisionOrder> orders = DivisionOrder.All(_options with { Sides = 2000, Classes = [name.Split('/')[0]] }, _seeds);
        DivisionOrder order = orders.FirstOrDefault(o => string.Equals(o.Name, name, StringComparison.Ordinal)) ?? throw new ArgumentException($"There is no side {name}.");
        DividedSide side = Made(order);
        WaveFile.Write(file, side.Capture, side.Words);
        string tracks = string.Join(", ", side.Truth.Tracks.Select(t => string.Create(CultureInfo.InvariantCulture, $"{t.Start.Seconds:0.000}–{t.End.Seconds:0.000}")));
        return $"{side.Truth.About}; tracks {tracks} s; printed {string.Join(", ", side.Truth.PrintedSeconds.Select(p => p?.ToString(CultureInfo.InvariantCulture) ?? "nothing"))}";
    }

    private static IEnumerable<EvaluationBlock> Watched(DividedSide side, IReadOnlyList<FixedThresholdSplitter> watchers)
    {
        foreach (EvaluationBlock block in Converter.Blocks(side.Capture, side.Words))
        {
            foreach (FixedThresholdSplitter watcher in watchers)
            {
                watcher.Add(block.Samples.Span);
            }

            yield return block;
        }
    }

    private MeasuredSide Measured(DivisionOrder order)
    {
        if (_kept?.Find(order.Name) is { } kept)
        {
            return kept;
        }

        DividedSide side = Made(order);
        CaptureFormat format = Converter.Format(side.Capture, side.Words);
        FixedThresholdSplitter[] naive = [.. NaiveDbfs.Select(dbfs => new FixedThresholdSplitter(format, dbfs))];
        LevelEnvelope envelope = DividerUnderTest.Measure(format, Watched(side, naive));
        var measured = new MeasuredSide(envelope, side.Truth, NaiveDbfs.Zip(naive).ToDictionary(p => p.First, p => p.Second.Finish()));
        _kept?.Keep(order.Name, measured);
        return measured;
    }

    private DividedSide Made(DivisionOrder order) => _maker.Make(order.Class, $"{order.Class.Name}/{order.Index}", order.Seed);

    private DivisionRow One(DivisionOrder order, Action<string> say)
    {
        long start = Stopwatch.GetTimestamp();
        MeasuredSide side = Measured(order);
        TimeSpan made = Stopwatch.GetElapsedTime(start);
        start = Stopwatch.GetTimestamp();
        var found = new Dictionary<GuideKind, DivisionScore>();
        foreach (GuideKind guide in order.Class.Guides)
        {
            FoundDivision division;
            try
            {
                division = DividerUnderTest.Divide(side.Envelope, DivisionHint.Of(guide, side.Truth));
            }
            catch (Exception fault)
            {
                // A division that throws has found nothing.
                say($"the division threw on {order.Name}: {fault}");
                division = new FoundDivision([], 0);
            }

            found.Add(guide, DivisionScore.Of(order.Name, side.Truth, division));
        }

        return new DivisionRow(
            order.Name, order.Class, order.Index, side.Truth, found, side.Naive.ToDictionary(n => n.Key, n => DivisionScore.Of(order.Name, side.Truth, n.Value)))
        {
            SideSeconds = (double)side.Envelope.TotalFrames / side.Envelope.SampleRateHz,
            MakeSeconds = made.TotalSeconds,
            JudgeSeconds = Stopwatch.GetElapsedTime(start).TotalSeconds,
        };
    }
}
