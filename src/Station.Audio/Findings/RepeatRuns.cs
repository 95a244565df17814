using System.Collections.Immutable;
using Station.Audio.Meters;
using Station.Audio.Meters.Turns;

namespace Station.Audio.Findings;

/// <summary>Joins pieces that repeat at one lag to stretches, and holds what differs in them against the noise of the bare groove.</summary>
public static class RepeatRuns
{
    // The stylus does not fall back to quite the same spot, and the disc turns a little unevenly (own choice; well under the 0.1 % of a turn that speeds drift by).
    private const double SameLagSeconds = 0.0015;

    // Shorter stretches are not told: four pieces are 1.2 s (own choice).
    private const int FewestPieces = 4;

    private const double FewestTurns = 0.6;

    // Jumps, knocks and ticks spoil pieces: this many turns without one that fits end a stretch (own choice).
    private const double GapTurns = 1.3;

    // So many pieces of bare groove tell its noise: 1.5 s.
    private const int FewestBarePieces = 5;

    // Bare groove is steadier than this, 6 dB: what is louder than the quietest of it is music that was taken for bare groove (own choice).
    private const double MusicRatio = 4;

    // Where the outline knows of none, the three quietest pieces of the groove stand for it if they are as steady as noise, 2 dB (own choice: the shortest lead-in).
    private const int QuietPieces = 3;
    private const double QuietSpread = 1.6;

    // With the stylus in the air the subsonics are 20 dB and more below those of the groove (measured on tuning sides: 25 to 40); a landing rings for half a second.
    private const double NeedleUpShare = 0.01;
    private const int LandingPieces = 2;

    // At the edges of gaps pieces are not bare groove.
    private const double EdgeSeconds = 0.1;

    /// <summary>All stretches of a reading in order of their beginning, whatever they mean.</summary>
    public static ImmutableArray<RepeatRun> Of(SideReading reading)
    {
        ArgumentNullException.ThrowIfNull(reading);
        TurnReading turns = reading.Turns;
        if (turns.Repeats.IsEmpty || BareGroove(reading) is not double[] floor)
        {
            return [];
        }

        List<List<TurnRepeat>> open = [];
        List<RepeatRun> runs = [];
        foreach (TurnRepeat repeat in turns.Repeats)
        {
            int gap = (int)Math.Ceiling(GapTurns * repeat.LagSeconds / turns.PieceSeconds);
            runs.AddRange(open.Where(run => repeat.Piece - run[^1].Piece > gap).Select(run => Closed(run, reading, floor)).OfType<RepeatRun>());
            open.RemoveAll(run => repeat.Piece - run[^1].Piece > gap);
            List<TurnRepeat>? same = open.Find(run => Math.Abs(run[^1].LagSeconds - repeat.LagSeconds) <= SameLagSeconds);
            if (same is null)
            {
                open.Add(same = []);
            }

            same.Add(repeat);
        }

        runs.AddRange(open.Select(run => Closed(run, reading, floor)).OfType<RepeatRun>());
        return [.. runs.OrderBy(run => run.StartSeconds)];
    }

    /// <summary>Mean squares of the bare groove's noise by band; null when the stylus may never have been in a bare groove.</summary>
    public static double[]? BareGroove(SideReading reading)
    {
        ArgumentNullException.ThrowIfNull(reading);
        TurnReading turns = reading.Turns;
        double step = (double)reading.Outline.StepFrames / reading.SampleRateHz;

        // What repeats to the end is easily taken for the run-out, and would be its own measure: lead-in and gaps tell, where there are any.
        List<TurnCells> bare = Bare(reading, step, runOut: false);
        bare = bare.Count >= FewestBarePieces ? bare : Bare(reading, step, runOut: true);
        if (bare.Count >= FewestBarePieces)
        {
            double most = MusicRatio * bare.Select(Sum).Order().ElementAt(FewestBarePieces - 1);
            bare.RemoveAll(cells => Sum(cells) > most);
        }

        double[] floor = new double[TurnCells.Count];
        if (bare.Count >= FewestBarePieces)
        {
            for (int cell = 0; cell < floor.Length; cell++)
            {
                floor[cell] = Median(bare.Select(cells => (double)cells[cell]));
            }
        }
        else
        {
            List<TurnCells> quiet = [.. InGroove(reading, step).OrderBy(cells => Sum(cells)).Take(QuietPieces)];
            if (quiet.Count < QuietPieces || Sum(quiet[^1]) > QuietSpread * Sum(quiet[0]))
            {
                return null;
            }

            for (int cell = 0; cell < floor.Length; cell++)
            {
                floor[cell] = quiet.Min(cells => (double)cells[cell]);
            }
        }

        return floor;
    }

    private static List<TurnCells> Bare(SideReading reading, double step, bool runOut)
    {
        double pieceSeconds = reading.Turns.PieceSeconds;
        return [.. reading.Turns.Powers.Where((_, piece) => reading.Outline.Groove.Any(span => (runOut || span.Place != GroovePlace.RunOut)
            && piece * pieceSeconds >= (span.FirstStep * step) + EdgeSeconds && (piece + 1) * pieceSeconds <= (span.EndStep * step) - EdgeSeconds))];
    }

    // Pieces with the stylus in the groove by the subsonics, landing and lift left out.
    private static IEnumerable<TurnCells> InGroove(SideReading reading, double step)
    {
        TurnReading turns = reading.Turns;
        double[] subsonic = [.. Enumerable.Range(0, turns.Powers.Length).Select(piece => Subsonic(reading.Envelope, (int)(piece * turns.PieceSeconds / step), (int)((piece + 1) * turns.PieceSeconds / step)))];
        double least = subsonic.Length == 0 ? 0 : NeedleUpShare * Median(subsonic);
        int since = 0;
        for (int piece = 0; piece < subsonic.Length - 1; piece++)
        {
            since = subsonic[piece] >= least ? since + 1 : 0;
            if ((since > LandingPieces || since > piece) && subsonic[piece + 1] >= least)
            {
                yield return turns.Powers[piece];
            }
        }
    }

    private static double Subsonic(LevelEnvelope envelope, int from, int to)
    {
        ReadOnlySpan<float> power = envelope.SubsonicPower(0);
        double sum = 0;
        for (int step = from; step < Math.Min(to, power.Length); step++)
        {
            sum += power[step];
        }

        return sum / Math.Max(1, to - from);
    }

    private static double Sum(TurnCells cells)
    {
        double sum = 0;
        for (int cell = 0; cell < TurnCells.Count; cell++)
        {
            sum += cells[cell];
        }

        return sum;
    }

    private static RepeatRun? Closed(List<TurnRepeat> pieces, SideReading reading, double[] floor)
    {
        TurnReading turns = reading.Turns;
        double turn = Median(pieces.Select(piece => (double)piece.LagSeconds));
        if (pieces.Count < Math.Max(FewestPieces, FewestTurns * turn / turns.PieceSeconds))
        {
            return null;
        }

        double[] differences = [.. Enumerable.Range(0, TurnCells.Count).Where(cell => floor[cell] > 0)
            .Select(cell => 10 * Math.Log10(Math.Max(Median(pieces.Select(piece => (double)piece.Differences[cell])), 1e-30) / floor[cell])).Order()];
        if (differences.Length == 0)
        {
            return null;
        }

        double music = Median(pieces.Select(piece => Enumerable.Range(0, TurnCells.Count).Where(cell => floor[cell] > 0)
            .Max(cell => 10 * Math.Log10(Math.Max(piece.Powers[cell], 1e-30) / floor[cell]))));
        double start = Math.Max(0, (pieces[0].Piece * turns.PieceSeconds) - turn);
        double end = (pieces[^1].Piece + 1) * turns.PieceSeconds;
        return new RepeatRun(start, end, turn, differences.Take(3).Average(), music, reading.Outline.MusicSeconds(start, end, reading.SampleRateHz) / (end - start));
    }

    private static double Median(IEnumerable<double> values)
    {
        double[] sorted = [.. values.Order()];
        return (sorted[(sorted.Length - 1) / 2] + sorted[sorted.Length / 2]) / 2;
    }
}
