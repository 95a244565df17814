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

    // As many of the quietest pieces stand for the bare groove where none is known: 1.5 s, the shortest lead-in (own choice).
    private const int QuietPieces = 5;

    // Beside the needle's landing and lift, and at the edges of gaps, pieces are not bare groove.
    private const double EdgeSeconds = 0.1;

    private const double LandingSeconds = 0.7;

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
            runs.AddRange(open.Where(run => repeat.Piece - run[^1].Piece > gap).Select(run => Closed(run, turns, floor)).OfType<RepeatRun>());
            open.RemoveAll(run => repeat.Piece - run[^1].Piece > gap);
            List<TurnRepeat>? same = open.Find(run => Math.Abs(run[^1].LagSeconds - repeat.LagSeconds) <= SameLagSeconds);
            if (same is null)
            {
                open.Add(same = []);
            }

            same.Add(repeat);
        }

        runs.AddRange(open.Select(run => Closed(run, turns, floor)).OfType<RepeatRun>());
        return [.. runs.OrderBy(run => run.StartSeconds)];
    }

    /// <summary>Mean squares of the bare groove's noise by band; null when the stylus may never have been in a bare groove.</summary>
    public static double[]? BareGroove(SideReading reading)
    {
        ArgumentNullException.ThrowIfNull(reading);
        TurnReading turns = reading.Turns;
        double step = (double)reading.Outline.StepFrames / reading.SampleRateHz;
        List<TurnCells> bare = [.. turns.Powers.Where((_, piece) => reading.Outline.Groove.Any(span =>
            piece * turns.PieceSeconds >= (span.FirstStep * step) + EdgeSeconds && (piece + 1) * turns.PieceSeconds <= (span.EndStep * step) - EdgeSeconds))];
        double[] floor = new double[TurnCells.Count];
        if (bare.Count >= QuietPieces)
        {
            for (int cell = 0; cell < floor.Length; cell++)
            {
                floor[cell] = Median(bare.Select(cells => (double)cells[cell]));
            }
        }
        else
        {
            double from = ((reading.Outline.NeedleDownStep ?? 0) * step) + (reading.Outline.NeedleDownStep is null ? 0 : LandingSeconds);
            double to = (reading.Outline.NeedleUpStep ?? reading.Outline.Steps) * step;
            List<TurnCells> inGroove = [.. turns.Powers.Where((_, piece) => piece * turns.PieceSeconds >= from && (piece + 1) * turns.PieceSeconds <= to)];
            if (inGroove.Count < 4 * QuietPieces)
            {
                return null;
            }

            for (int cell = 0; cell < floor.Length; cell++)
            {
                floor[cell] = inGroove.Select(cells => (double)cells[cell]).Order().ElementAt(QuietPieces / 2);
            }
        }

        return floor;
    }

    private static RepeatRun? Closed(List<TurnRepeat> pieces, TurnReading turns, double[] floor)
    {
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
        return new RepeatRun(
            Math.Max(0, (pieces[0].Piece * turns.PieceSeconds) - turn),
            (pieces[^1].Piece + 1) * turns.PieceSeconds,
            turn,
            differences.Take(3).Average(),
            music);
    }

    private static double Median(IEnumerable<double> values)
    {
        double[] sorted = [.. values.Order()];
        return (sorted[(sorted.Length - 1) / 2] + sorted[sorted.Length / 2]) / 2;
    }
}
