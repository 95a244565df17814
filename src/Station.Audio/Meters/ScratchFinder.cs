using System.Collections.Immutable;

namespace Station.Audio.Meters;

/// <summary>Finds scratches: rows of ticks a turn apart, longer than chance makes them, and alone in coming back.</summary>
/// <remarks>Music that beats by the turn, or by a part of it, brings back more than one moment of each turn; a scratch brings back one.</remarks>
internal static class ScratchFinder
{
    // A scratch is seldom quite radial: its ticks wander by this share of a turn, and the turn is known to a tenth of that (own choice).
    private const double Slant = 0.006;

    // Without a measured turn: how far a turntable may be off (own choice).
    private const double UnknownSlant = 0.03;

    // A tick's place is told to a fifth of a millisecond, and a scratch's edge is ragged (own choice).
    private const double RaggedSeconds = 0.0018;

    // So many other moments of the turn may come back as well: more scratches. From the next on it is music.
    private const int MostCompanions = 2;

    private const int MostScratches = 100;

    // Least ticks of a row; turns missed in a row; share of the turns that tick; expected number of such rows among ticks that come by chance; own choices.
    // Faint ones are mostly music, which is less random than chance: more is asked of their rows.
    private static readonly Demand OfTicks = new(6, 2, 0.6, 1e-3);
    private static readonly Demand OfFaint = new(9, 3, 0.6, 1e-6);

    // Music of pulses has fifty impulses a second, among which every row is chance; a scratch is heard above them. Those that stand so far above the middle one of so many neighbours are
    // looked at alone: synthesised pulses of a tuning side stay within 7 dB of theirs, the scratch in them is 11 to 18 dB above (measured; own choice between).
    private const double OutstandingDb = 8;
    private const int Neighbours = 64;

    private readonly record struct Demand(int LeastTicks, int MostMissed, double LeastShare, double LeastUnlikely);

    /// <summary>Finds them among ticks, and then, where none is found, among ticks and fainter impulses: all of them, and those that stand out.</summary>
    /// <param name="ticks">In order of time.</param>
    /// <param name="faint">In order of time, the ticks among them.</param>
    /// <param name="frames">Where the music ends: later faint ones are left out.</param>
    /// <param name="sampleRateHz">Frames per second.</param>
    /// <param name="turnSeconds">The measured turn; null when unknown: the usual speeds are tried.</param>
    public static ImmutableArray<Scratch> Find(ImmutableArray<Tick> ticks, FaintTicks faint, long frames, int sampleRateHz, double? turnSeconds)
    {
        List<Scratch> scratches = [.. Find(ticks, sampleRateHz, turnSeconds)];
        double end = (double)frames / sampleRateHz;
        List<double> times = [];
        for (int i = 0; i < faint.Count && faint.SecondsAt(i) < end; i++)
        {
            times.Add(faint.SecondsAt(i));
        }

        // A row that was told already is heard again, a few ticks longer.
        double[] all = [.. times];
        AddOthers(scratches, Find(all, all, faint.PeakDbfs, sampleRateHz, turnSeconds, OfFaint));
        int[] outstanding = Outstanding(faint, all.Length);
        AddOthers(scratches, Find([.. outstanding.Select(at => all[at])], all, at => faint.PeakDbfs(outstanding[at]), sampleRateHz, turnSeconds, OfFaint));
        return [.. scratches.OrderBy(scratch => scratch.FirstFrame)];
    }

    /// <summary>Finds them.</summary>
    /// <param name="ticks">In order of time.</param>
    /// <param name="sampleRateHz">Frames per second.</param>
    /// <param name="turnSeconds">The measured turn; null when unknown: the usual speeds are tried.</param>
    public static ImmutableArray<Scratch> Find(ImmutableArray<Tick> ticks, int sampleRateHz, double? turnSeconds)
    {
        double[] times = [.. ticks.Select(tick => (double)tick.Frame / sampleRateHz)];
        return [.. Find(times, times, at => ticks[at].PeakDbfs, sampleRateHz, turnSeconds, OfTicks).OrderBy(scratch => scratch.FirstFrame)];
    }

    // Those that no known one overlaps; several found at once may overlap each other.
    private static void AddOthers(List<Scratch> known, List<Scratch> found) =>
        known.AddRange(found.Where(one => !known.Exists(other => other.FirstFrame <= one.LastFrame && one.FirstFrame <= other.LastFrame)).ToList());

    // Those that stand out among their neighbours.
    private static int[] Outstanding(FaintTicks faint, int count)
    {
        List<int> outstanding = [];
        for (int from = 0; from < count; from += Neighbours)
        {
            int[] some = [.. Enumerable.Range(from, Math.Min(Neighbours, count - from))];
            double middle = some.Select(faint.PeakDbfs).Order().ElementAt(some.Length / 2);
            outstanding.AddRange(some.Where(at => faint.PeakDbfs(at) >= middle + OutstandingDb));
        }

        return [.. outstanding];
    }

    // Rows among some impulses; whether others come back as well is asked of all.
    private static List<Scratch> Find(double[] times, double[] all, Func<int, double> peakDbfs, int sampleRateHz, double? turnSeconds, Demand demand)
    {
        bool[] used = new bool[times.Length];
        List<Scratch> scratches = [];
        double[] turns = turnSeconds is double turn ? [turn] : [1.8, 60.0 / 45, 0.768];
        double slant = turnSeconds is null ? UnknownSlant : Slant;
        List<int> row = [];
        List<int> best = [];
        int bestTurns = 0;
        foreach (double expected in turns)
        {
            for (int i = 0; i < times.Length && scratches.Count < MostScratches; i++)
            {
                if (used[i])
                {
                    continue;
                }

                best.Clear();
                for (int j = LowerBound(times, times[i] + (expected * (1 - slant))); j < times.Length && times[j] <= times[i] + (expected * (1 + slant)); j++)
                {
                    if (!used[j])
                    {
                        int rowTurns = Follow(times, i, j, demand.MostMissed, row);
                        if (row.Count > best.Count)
                        {
                            best.Clear();
                            best.AddRange(row);
                            bestTurns = rowTurns;
                        }
                    }
                }

                if (best.Count >= demand.LeastTicks && IsScratch(times, all, best, bestTurns, expected * slant, demand))
                {
                    scratches.Add(Of(times, peakDbfs, best, bestTurns, sampleRateHz));
                    best.ForEach(at => used[at] = true);
                }
            }
        }

        return scratches;
    }

    // Follows a row from its first two ticks; each next one is looked for where the row so far says. Returns the turns from the first to the last: over a long row the expected turn would miscount them.
    private static int Follow(double[] times, int first, int second, int mostMissed, List<int> row)
    {
        row.Clear();
        row.Add(first);
        row.Add(second);
        int turns = 1;
        int missed = 0;
        int last = 1;
        while (missed <= mostMissed)
        {
            double turn = (times[row[^1]] - times[first]) / last;
            double expected = times[row[^1]] + ((turns + 1 - last) * turn);
            int at = Nearest(times, expected);
            turns++;

            // The first ticks tell the distance no better than their own places.
            double reach = RaggedSeconds * (1 + (1.0 / last));
            if (at < times.Length && Math.Abs(times[at] - expected) <= reach && at > row[^1])
            {
                row.Add(at);
                last = turns;
                missed = 0;
            }
            else
            {
                missed++;
            }
        }

        return last;
    }

    private static bool IsScratch(double[] times, double[] all, List<int> row, int turns, double slantSeconds, Demand demand)
    {
        double span = times[row[^1]] - times[row[0]];
        if (row.Count < demand.LeastShare * (turns + 1))
        {
            return false;
        }

        // Ticks a second around the row, its own left out.
        double first = times[row[0]];
        int around = LowerBound(times, times[row[^1]] + 1) - LowerBound(times, first - 1);
        double density = Math.Max(0, around - row.Count) / (span + 2);
        double hit = Math.Min(0.9, density * 2 * RaggedSeconds * 1.3);
        double rows = Math.Max(1, around) * Math.Max(1, density * 2 * slantSeconds) * Choices(turns - 1, turns + 1 - row.Count);
        return rows * Math.Pow(hit, row.Count - 2) <= demand.LeastUnlikely && Companions(all, first, row.Count, span, span / turns) <= MostCompanions;
    }

    private static Scratch Of(double[] times, Func<int, double> peakDbfs, List<int> row, int turns, int sampleRateHz)
    {
        double span = times[row[^1]] - times[row[0]];
        double[] peaks = [.. row.Select(peakDbfs).Order()];
        return new Scratch(Frame(row[0]), Frame(row[^1]), row.Count, turns + 1, peaks[peaks.Length / 2], span / turns);

        long Frame(int at) => (long)Math.Round(times[at] * sampleRateHz);
    }

    // Moments of the turn, other than the row's, that come back in at least half of its turns.
    private static int Companions(double[] all, double first, int count, double span, double turn)
    {
        const double Bin = 0.004;
        int from = LowerBound(all, first - 1);
        int to = LowerBound(all, first + span + 1);
        double density = Math.Max(0, to - from - count) / (span + 2);
        int bins = (int)Math.Ceiling(turn / Bin);
        int[] counts = new int[bins];
        int[] lastTurn = new int[bins];
        Array.Fill(lastTurn, int.MinValue);
        for (int i = from; i < to; i++)
        {
            double turnsOn = (all[i] - first) / turn;
            int number = (int)Math.Floor(turnsOn);
            int bin = Math.Min(bins - 1, (int)((turnsOn - number) * turn / Bin));
            if (lastTurn[bin] != number)
            {
                lastTurn[bin] = number;
                counts[bin]++;
            }
        }

        // What chance puts into two neighbouring bins, and three standard deviations more.
        double chance = density * 2 * Bin * count;
        double least = Math.Max(Math.Max(3, count / 2), chance + (3 * Math.Sqrt(chance)));
        int companions = 0;
        for (int bin = 2; bin < bins - 2; bin++)
        {
            if (counts[bin] + counts[bin - 1] >= least)
            {
                companions++;
                bin += 2;
            }
        }

        return companions;
    }

    private static double Choices(int of, int some)
    {
        double choices = 1;
        for (int i = 1; i <= some; i++)
        {
            choices *= (double)(of - some + i) / i;
        }

        return choices;
    }

    private static int LowerBound(double[] times, double time)
    {
        int at = Array.BinarySearch(times, time);
        return at < 0 ? ~at : at;
    }

    private static int Nearest(double[] times, double time)
    {
        int at = LowerBound(times, time);
        return at > 0 && (at == times.Length || time - times[at - 1] < times[at] - time) ? at - 1 : at;
    }
}
