using System.Collections.Immutable;
using Station.Audio.Meters;

namespace Station.Audio.Division;

/// <summary>
/// Chooses, among quiet stretches and the places the sheet's lengths point to, those that part tracks: the set that is likeliest as a whole, found by dynamic programming.
/// </summary>
/// <remarks>
/// <para>
/// The sum that is made as large as possible: for each gap chosen the log-odds that it is one; for each place without a gap a fixed amount against; for each track how
/// well its length agrees with the sheet. Nothing else.
/// </para>
/// <para>
/// A boundary's confidence is its share among all places where the boundary of that number could lie, each weighed by the best whole division through it.
/// </para>
/// </remarks>
internal static class BoundaryChoice
{
    private const int Second = StepLength.StepsPerSecond;

    // A printed length is rounded, may or may not count the gap, and is now and then a misprint: freedom of 1.5 s and 1.5 %, with a long tail.
    private const double FreedomSeconds = 1.5;
    private const double FreedomShare = 0.015;

    // One print in thirty is a misprint, and may then be anything within minutes, some thirty times the freedom: no print says more than that against a place (own choice; common practice, no source).
    private const double Misprint = -7;

    // How far turntables are off, as a standard deviation of all lengths together.
    private const double SpeedShare = 0.012;

    // Own choice: at the end of a side a crowd is given more time than between pieces.
    private const int LastApplauseSteps = 25 * Second;

    // A place beside another one is the same.
    private const int NearSteps = Second / 2;

    // So many other places are told for each boundary, none less likely than this.
    private const int MostOthers = 3;
    private const double LeastShare = 0.02;

    /// <summary>With a sheet: exactly as many as it says; null when there is no way, because places are too few and lengths unknown.</summary>
    /// <param name="map">Where music lies.</param>
    /// <param name="gaps">Quiet stretches in order.</param>
    /// <param name="dips">Dips of the level.</param>
    /// <param name="lengths">Of each track, seconds, null where not stated; as many as tracks.</param>
    /// <param name="shortestTrackSeconds">No track is shorter.</param>
    /// <param name="speed">How fast the turntable seems to have turned by the lengths, 1 when right.</param>
    public static ImmutableArray<Boundary>? Exactly(MusicMap map, IReadOnlyList<Gap> gaps, IReadOnlyList<Dip> dips, ImmutableArray<double?> lengths, double shortestTrackSeconds, out double speed)
    {
        speed = 1;
        if (lengths.Length == 1)
        {
            return [];
        }

        // A side with as many clear gaps as it needs is no concert.
        dips = gaps.Count(gap => gap.Odds > 0) < lengths.Length - 1 ? dips : [];
        Solution? plain = Solve(map, gaps, dips, lengths, 1, shortestTrackSeconds);
        if (plain is null || lengths.All(length => length is null))
        {
            return plain?.Boundaries;
        }

        // The lengths as the turntable played them: what the best division says of its speed is tried, and kept when all agree better.
        double told = Speed(map, plain, lengths);
        Solution? scaled = Math.Abs(told - 1) > 0.002 ? Solve(map, gaps, dips, lengths, told, shortestTrackSeconds) : null;
        double off = (told - 1) / SpeedShare;
        if (scaled is null || scaled.Score - (0.5 * off * off) <= plain.Score)
        {
            return plain.Boundaries;
        }

        speed = told;
        return scaled.Boundaries;
    }

    private static Solution? Solve(MusicMap map, IReadOnlyList<Gap> gaps, IReadOnlyList<Dip> dips, ImmutableArray<double?> lengths, double speed, double shortestTrackSeconds)
    {
        int count = lengths.Length - 1;
        Place[] places = [.. Place.All(map, gaps, dips, lengths, speed).OrderBy(place => place.FirstStep).ThenBy(place => place.EndStep)];
        double[][] forward = [.. Enumerable.Range(0, count).Select(_ => new double[places.Length])];
        double[][] backward = [.. Enumerable.Range(0, count).Select(_ => new double[places.Length])];
        int[][] previous = [.. Enumerable.Range(0, count).Select(_ => new int[places.Length])];

        // Most places may be one boundary only: what none may be is not gone through.
        int[][] of = [.. Enumerable.Range(0, count).Select(k => Enumerable.Range(0, places.Length).Where(i => places[i].MayBe(k)).ToArray())];
        for (int k = 0; k < count; k++)
        {
            Array.Fill(forward[k], double.NegativeInfinity);
            Array.Fill(backward[k], double.NegativeInfinity);
            foreach (int i in of[k])
            {
                if (k == 0)
                {
                    forward[0][i] = places[i].Odds + Fit(map.FirstStep, places[i], lengths[0], speed, shortestTrackSeconds);
                    continue;
                }

                foreach (int j in of[k - 1])
                {
                    if (j >= i)
                    {
                        break;
                    }

                    double sum = forward[k - 1][j] + places[i].Odds + Fit(places[j].EndStep, places[i], lengths[k], speed, shortestTrackSeconds);
                    if (sum > forward[k][i])
                    {
                        (forward[k][i], previous[k][i]) = (sum, j);
                    }
                }
            }
        }

        // Applause may follow the last one.
        int applause = dips.Count > 0 ? LastApplauseSteps : 0;
        var end = new Place(Math.Max(map.FirstStep, map.EndStep - applause), map.EndStep, 0, -1, Heard: true);
        for (int k = count - 1; k >= 0; k--)
        {
            foreach (int j in of[k])
            {
                if (k == count - 1)
                {
                    backward[k][j] = Fit(places[j].EndStep, end, lengths[count], speed, shortestTrackSeconds);
                    continue;
                }

                foreach (int i in of[k + 1])
                {
                    if (i > j)
                    {
                        backward[k][j] = Math.Max(
                            backward[k][j], backward[k + 1][i] + places[i].Odds + Fit(places[j].EndStep, places[i], lengths[k + 1], speed, shortestTrackSeconds));
                    }
                }
            }
        }

        int last = -1;
        double best = double.NegativeInfinity;
        for (int i = 0; i < places.Length; i++)
        {
            if (forward[count - 1][i] + backward[count - 1][i] > best)
            {
                (best, last) = (forward[count - 1][i] + backward[count - 1][i], i);
            }
        }

        if (last < 0)
        {
            return null;
        }

        var boundaries = new Boundary[count];
        for (int k = count - 1; k >= 0; k--)
        {
            boundaries[k] = Shared(places, forward[k], backward[k], last);
            last = previous[k][last];
        }

        return new Solution(best, [.. boundaries]);
    }

    // Softmax over the best divisions through each place.
    private static Boundary Shared(Place[] places, double[] forward, double[] backward, int chosen)
    {
        double best = forward[chosen] + backward[chosen];
        double[] weights = [.. forward.Zip(backward, (before, behind) => double.IsFinite(before + behind) ? Math.Exp(Math.Min(0, before + behind - best)) : 0)];
        double all = weights.Sum();
        double own = Taken(chosen) / all;
        var others = ImmutableArray.CreateBuilder<Boundary>(MostOthers);
        while (others.Count < MostOthers)
        {
            int next = Array.IndexOf(weights, weights.Max());
            (double weight, Place place) = (Taken(next) / all, places[next]);
            if (weight < LeastShare)
            {
                break;
            }

            others.Add(new Boundary(place.CutStep, place.EndStep, place.Heard, weight));
        }

        return new Boundary(places[chosen].CutStep, places[chosen].EndStep, places[chosen].Heard, own) { Others = others.ToImmutable() };

        // What lies beside it goes with it, once.
        double Taken(int at)
        {
            double sum = 0;
            for (int i = 0; i < weights.Length; i++)
            {
                if (Math.Abs(places[i].EndStep - places[at].EndStep) <= NearSteps)
                {
                    sum += weights[i];
                    weights[i] = 0;
                }
            }

            return sum;
        }
    }

    private static double Fit(int from, Place to, double? stated, double speed, double shortestTrackSeconds)
    {
        double seconds = (to.FirstStep - from) / (double)Second;
        if (seconds < shortestTrackSeconds)
        {
            return double.NegativeInfinity;
        }

        if (stated is not { } length)
        {
            return 0;
        }

        length /= speed;
        double withGap = (to.EndStep - from) / (double)Second;
        double off = Math.Max(0, Math.Max(seconds - length, length - withGap)) / (FreedomSeconds + (FreedomShare * length));
        return Math.Max(Misprint, -2 * Math.Log(1 + (off * off / 4)));
    }

    // The middle one of what the single tracks say: a misprint says nothing.
    private static double Speed(MusicMap map, Solution solution, ImmutableArray<double?> lengths)
    {
        List<double> speeds = [];
        for (int k = 0; k < lengths.Length; k++)
        {
            int from = k == 0 ? map.FirstStep : solution.Boundaries[k - 1].EndStep;
            int to = k == solution.Boundaries.Length ? map.EndStep : solution.Boundaries[k].FirstStep;
            if (lengths[k] is { } length and > 30 && to > from)
            {
                speeds.Add(length * Second / (to - from));
            }
        }

        speeds.Sort();
        return speeds.Count < 2 ? 1 : Math.Clamp(speeds[speeds.Count / 2], 0.9, 1.1);
    }

    private sealed record Solution(double Score, ImmutableArray<Boundary> Boundaries);
}
