using System.Globalization;
using Station.Evaluation.Disc;
using Station.Evaluation.Faults;
using Station.Evaluation.Music;
using Station.Evaluation.Signal;

namespace Station.Evaluation.Dividing;

/// <summary>
/// Makes sides to be divided: the same name and seed give the same side, bit for bit. The discs, noises and converters of the other classes, a shorter way
/// through them: no eccentricity and no jumps, but music and noise measured apart before they are added.
/// </summary>
/// <param name="music">Where music comes from.</param>
/// <param name="models">Noise models allowed.</param>
/// <param name="salt">Keeps the streams of the two sets apart even where seeds meet.</param>
public sealed class DividedSideMaker(IMusicSource music, IReadOnlyList<NoiseModel> models, string salt)
{
    private int _redrawn;

    /// <summary>Sides that were begun and given up because they did not become what they were drawn for.</summary>
    public int Redrawn => _redrawn;

    /// <summary>Makes a side.</summary>
    /// <param name="kind">Its class.</param>
    /// <param name="name">Class and number: names the random stream.</param>
    /// <param name="seed">Seed of the run.</param>
    /// <exception cref="SideUnfitException">None of a hundred draws was fit.</exception>
    public DividedSide Make(DivisionClass kind, string name, ulong seed)
    {
        ArgumentNullException.ThrowIfNull(kind);
        for (int attempt = 0; ; attempt++)
        {
            try
            {
                var random = new SeededRandom(seed, $"{salt}/division/{name}/{attempt}");
                return Make(kind.Plan(new SidePlanner(random, music, models)), random);
            }
            catch (SideUnfitException) when (attempt < 100)
            {
                Interlocked.Increment(ref _redrawn);
            }
        }
    }

    /// <summary>Makes a side from its plan.</summary>
    public DividedSide Make(DividedPlan plan, SeededRandom random)
    {
        ArgumentNullException.ThrowIfNull(plan);
        ArgumentNullException.ThrowIfNull(random);
        DiscRecipe recipe = plan.Recipe;
        (StereoSignal groove, List<(int From, int To)> cuts) = Cut(plan, random);
        GrooveNoise model = GrooveNoise.Make(recipe.Noise, music.GrooveTexture());
        StereoSignal noise = model.Levelled(groove, recipe, random);
        Drift(noise, plan.NoiseDriftDb);
        List<MusicEdges> edges = Edges(plan, groove, noise, cuts);
        Crowd? crowd = plan.Crowd ? new Crowd(random) : null;
        (int From, int To) heard = crowd is null ? (0, 0) : AddCrowd(crowd, groove, edges, recipe, random);
        Add(groove, noise);
        model.AddTicks(groove, recipe, random);
        int landing = (int)Math.Round(recipe.PreRollSeconds * recipe.SampleRateHz);
        (StereoSignal capture, int lift) = Play(groove, recipe, landing, random);
        Amplify(capture, recipe);
        Level(capture, recipe, landing + cuts[0].From, landing + cuts[^1].To);
        Line(capture, recipe, landing, lift, random);
        Converter.Convert(capture, recipe.ConverterBits, recipe.Dither, random);
        return new DividedSide(capture, recipe.Words, Truth(plan, edges, cuts, landing, heard, random));
    }

    private (StereoSignal Groove, List<(int From, int To)> Cuts) Cut(DividedPlan plan, SeededRandom random)
    {
        DiscRecipe recipe = plan.Recipe;
        double faster = recipe.Rpm / recipe.NominalRpm;
        double second = recipe.SampleRateHz / faster;
        double seconds = recipe.LeadInSeconds + recipe.SpiralSeconds + plan.Pieces.Sum(p => p.Seconds + p.GapSeconds);
        var groove = new StereoSignal((int)(seconds * second) + (2 * (int)Math.Ceiling(recipe.TurnFrames)), recipe.SampleRateHz);
        var cuts = new List<(int From, int To)>();
        double at = recipe.LeadInSeconds * second;
        foreach (DividedPiece piece in plan.Pieces)
        {
            StereoSignal cut = TrackCutter.Cut(music, piece, recipe, random);
            int from = (int)at;
            int frames = Math.Min(cut.Frames, groove.Frames - from);
            for (int i = 0; i < frames; i++)
            {
                groove.Left[from + i] += cut.Left[i];
                groove.Right[from + i] += cut.Right[i];
            }

            cuts.Add((from, from + frames));
            at += frames + (piece.GapSeconds * second);
        }

        double peak = groove.Peak(0, groove.Frames);
        if (peak <= 0)
        {
            throw new SideUnfitException("The music is silent.");
        }

        groove.Scale(1 / peak);
        return (groove, cuts);
    }

    /// <summary>The groove noise changes on the way inwards, evenly in decibels.</summary>
    private static void Drift(StereoSignal noise, double driftDb)
    {
        for (int from = 0; from < noise.Frames; from += 1024)
        {
            float gain = (float)Decibel.ToLinear(driftDb * (((double)from / noise.Frames) - 0.5));
            for (int i = from; i < Math.Min(from + 1024, noise.Frames); i++)
            {
                noise.Left[i] *= gain;
                noise.Right[i] *= gain;
            }
        }
    }

    /// <summary>Where music is heard over the noise, both known apart; the noise is its usual power over two turns and what the electronics add.</summary>
    private static List<MusicEdges> Edges(DividedPlan plan, StereoSignal groove, StereoSignal noise, List<(int From, int To)> cuts)
    {
        DiscRecipe recipe = plan.Recipe;
        int rate = recipe.SampleRateHz;
        double[] sound = BandCells.Of(groove);
        double[] floor = BandCells.Smoothed(BandCells.Of(noise), (int)(BandCells.PerSecond * recipe.TurnFrames / rate));
        double electronics = Math.Pow(recipe.Units(recipe.ElectronicsDbfs), 2) * 8800 / (rate / 2.0);
        for (int i = 0; i < floor.Length; i++)
        {
            floor[i] += electronics;
        }

        var edges = new List<MusicEdges>();
        foreach ((int from, int to) in cuts)
        {
            MusicEdges found = MusicEdges.Find(sound, floor, BandCells.CellOf(from, rate) - MusicEdges.WindowCells, BandCells.CellOf(to, rate) + MusicEdges.WindowCells)
                ?? throw new SideUnfitException("A track is not heard over the noise.");
            if (found.LongestLullCells > plan.LongestLullSeconds * BandCells.PerSecond)
            {
                throw new SideUnfitException("A track sinks into the noise.");
            }

            edges.Add(found);
        }

        for (int i = 1; i < edges.Count; i++)
        {
            // Music that begins or ends in silence of its own makes gaps longer than drawn; shorter ones it can't.
            if (plan.Pieces[i - 1].GapSeconds > 0 && edges[i].StartCell - edges[i - 1].EndCell > 20 * BandCells.PerSecond)
            {
                throw new SideUnfitException("A gap is as long as a track.");
            }
        }

        return edges;
    }

    /// <summary>Murmur from shortly before the first track to after the last; applause after each.</summary>
    private static (int From, int To) AddCrowd(Crowd crowd, StereoSignal groove, List<MusicEdges> edges, DiscRecipe recipe, SeededRandom random)
    {
        int rate = recipe.SampleRateHz;
        int from = Math.Max(0, BandCells.FrameOf(edges[0].StartCell, rate) - (int)(random.Between(0.5, 3) * rate));
        int to = BandCells.FrameOf(edges[^1].EndCell, rate) + (int)(random.Between(4, 9) * rate);
        var applauses = new List<(int From, int To)>();
        for (int i = 0; i < edges.Count; i++)
        {
            // People clap before the last note is gone and into the next one.
            int next = i + 1 < edges.Count ? BandCells.FrameOf(edges[i + 1].StartCell, rate) : to;
            int begin = BandCells.FrameOf(edges[i].EndCell, rate) - (int)(random.Between(0, 1.5) * rate);
            applauses.Add((begin, Math.Max(begin + (2 * rate), next + (int)(random.Between(-2, 1) * rate))));
        }

        crowd.AddTo(groove, from, Math.Min(to, groove.Frames), applauses, random);
        return (from, Math.Min(to, groove.Frames));
    }

    private static void Add(StereoSignal groove, StereoSignal noise)
    {
        for (int i = 0; i < groove.Frames; i++)
        {
            groove.Left[i] += noise.Left[i];
            groove.Right[i] += noise.Right[i];
        }
    }

    /// <summary>Landing, the groove once, its last turn round and round with a knock and fresh noise 9 dB below the groove's own, lift.</summary>
    private (StereoSignal Capture, int Lift) Play(StereoSignal groove, DiscRecipe recipe, int landing, SeededRandom random)
    {
        int turn = (int)Math.Ceiling(recipe.TurnFrames);
        int closed = groove.Frames - turn;
        int lift = landing + closed + (int)(recipe.RunOutTurns * recipe.TurnFrames);
        var capture = new StereoSignal(lift + (int)(recipe.PostRollSeconds * recipe.SampleRateHz), recipe.SampleRateHz);
        float fresh = (float)recipe.Units(recipe.SurfaceDba - 9);
        for (int channel = 0; channel < 2; channel++)
        {
            float[] from = groove.Channel(channel);
            float[] to = capture.Channel(channel);
            from.AsSpan(0, closed).CopyTo(to.AsSpan(landing));
            for (int i = landing + closed; i < lift; i++)
            {
                int place = closed + (int)((i - landing - closed) % recipe.TurnFrames);
                to[i] = from[place] + (fresh * random.NextGaussian());
            }
        }

        var side = new Side(recipe, random, music) { Capture = capture };
        for (int i = 0; i < recipe.RunOutTurns; i++)
        {
            side.Thump(landing + closed + (int)(i * recipe.TurnFrames), recipe.Units(recipe.RunOutThumpDbfs + random.Between(-1.5, 1.5)), 0.12, true);
        }

        side.Thump(landing, recipe.Units(recipe.DropDbfs), random.Between(0.15, 0.45), true);
        side.Thump(lift, recipe.Units(recipe.LiftDbfs), random.Between(0.08, 0.25), true);
        return (capture, lift);
    }

    /// <summary>Crosstalk, balance, the curve's error in the treble, a coupling capacitor.</summary>
    private static void Amplify(StereoSignal capture, DiscRecipe recipe)
    {
        double rate = capture.SampleRateHz;
        float leak = (float)Decibel.ToLinear(-recipe.SeparationDb);
        float leftGain = (float)Decibel.ToLinear(recipe.BalanceDb / 2);
        float rightGain = 1 / leftGain;
        for (int i = 0; i < capture.Frames; i++)
        {
            (float left, float right) = (capture.Left[i], capture.Right[i]);
            capture.Left[i] = leftGain * (left + (leak * right));
            capture.Right[i] = rightGain * (right + (leak * left));
        }

        Section.RunBoth(capture, () => Section.HighShelf(3000, recipe.TrebleErrorDb, rate));
        Section.RunBoth(capture, () => Section.OneZero(recipe.CouplingHz, rate));
    }

    /// <summary>The programme's peak at its level, and every tick and knock below −1.5 dBFS.</summary>
    private static void Level(StereoSignal capture, DiscRecipe recipe, int from, int to) => capture.Scale(Math.Min(
        Decibel.ToLinear(recipe.PeakDbfs) / capture.Peak(from, to), Decibel.ToLinear(-1.5) / capture.Peak(0, capture.Frames)));

    private static void Line(StereoSignal capture, DiscRecipe recipe, int landing, int lift, SeededRandom random)
    {
        float noise = (float)Decibel.ToLinear(recipe.ElectronicsDbfs);
        for (int i = 0; i < capture.Frames; i++)
        {
            capture.Left[i] += noise * random.NextGaussian();
            capture.Right[i] += noise * random.NextGaussian();
        }

        LowSounds.Add(capture, recipe, landing, lift, random);
    }

    private static DividedTruth Truth(DividedPlan plan, List<MusicEdges> edges, List<(int From, int To)> cuts, int landing, (int From, int To) crowd, SeededRandom random)
    {
        DiscRecipe recipe = plan.Recipe;
        double rate = recipe.SampleRateHz;
        double before = landing / rate;
        double faster = recipe.Rpm / recipe.NominalRpm;
        var tracks = new List<TrueTrack>();
        for (int i = 0; i < edges.Count; i++)
        {
            double start = before + ((double)edges[i].StartCell / BandCells.PerSecond);
            double end = before + ((double)edges[i].EndCell / BandCells.PerSecond);
            bool joinedBefore = i > 0 && plan.Pieces[i - 1].GapSeconds <= 0;
            bool joinedAfter = i + 1 < edges.Count && plan.Pieces[i].GapSeconds <= 0;

            // Where tracks meet, the middle of the cross-fade is the edge of both.
            if (joinedBefore)
            {
                start = before + ((cuts[i].From + cuts[i - 1].To) / 2.0 / rate);
            }

            if (joinedAfter)
            {
                end = before + ((cuts[i].To + cuts[i + 1].From) / 2.0 / rate);
            }

            TrueEdge first = joinedBefore ? TrueEdge.Segue(start) : TrueEdge.Start(start);
            TrueEdge last = joinedAfter ? TrueEdge.Segue(end) : TrueEdge.End(end);
            if (plan.Crowd)
            {
                // The applause belongs to the track before, or to nobody: the next one may begin up to 3 s before its first note or 1 s after it.
                first = i == 0
                    ? new TrueEdge(start, start - (before + (crowd.From / rate)) + TrueEdge.StartTolerance, TrueEdge.StartTolerance, Placed: true)
                    : new TrueEdge(start, 3, 1, Placed: true);
                double until = i + 1 < edges.Count ? before + ((double)edges[i + 1].StartCell / BandCells.PerSecond) : before + (crowd.To / rate);
                last = new TrueEdge(end, TrueEdge.EndTolerance, until - end + TrueEdge.EndTolerance, Placed: true);
            }

            tracks.Add(new TrueTrack(first, last, start, end));
        }

        double[] lengths = [.. edges.Select(e => (double)(e.EndCell - e.StartCell) / BandCells.PerSecond * faster)];
        double[] gaps = [.. edges.Select((e, i) => i + 1 < edges.Count ? (double)(edges[i + 1].StartCell - e.EndCell) / BandCells.PerSecond * faster : 0)];
        IReadOnlyList<double?> printed = PrintedLengths.Draw(lengths, gaps, plan.Print, random);
        string about = string.Create(CultureInfo.InvariantCulture,
            $"model {recipe.Noise}, noise {recipe.SurfaceDba:0.0} dBFS A, drift {plan.NoiseDriftDb:0.0} dB, peak {recipe.PeakDbfs:0.0} dBFS, {recipe.TicksPerMinute:0} ticks/min, {recipe.NominalRpm:0.##} rev/min {recipe.SpeedErrorPercent:+0.00;-0.00} %");
        return new DividedTruth(tracks, printed, recipe.NominalRpm, about);
    }
}
