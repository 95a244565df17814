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

    // Log-odds of a boundary where nothing is heard: tracks run into each other on a few sides in a hundred (own choice).
    private const double UnheardOdds = -4;

    // A printed length is rounded, may or may not count the gap, and is now and then a misprint: freedom of 1.5 s and 1.5 %, with a long tail.
    private const double FreedomSeconds = 1.5;
    private const double FreedomShare = 0.015;

    // How far turntables are off, as a standard deviation of all lengths together.
    private const double SpeedShare = 0.012;

    private const double SureOdds = 5;

    // Only gaps likely enough say where a track without a gap may lie, and only so many are tried: this bounds the work on strange sides.
    private const double LeadingConfidence = 0.3;
    private const int MostLeading = 24;
    private const int MostUnheard = 60;
    private const int NearSteps = Second / 2;

    /// <summary>Without a sheet: the gaps likelier than not, none leaving a track shorter than allowed.</summary>
    public static ImmutableArray<Boundary> Free(MusicMap map, IReadOnlyList<Gap> gaps, double shortestTrackSeconds)
    {
        (double best, List<int> chosen) = Subset(map, gaps, shortestTrackSeconds, without: -1);
        return
        [
            .. chosen.Select(i =>
            {
                (double other, _) = Subset(map, gaps, shortestTrackSeconds, without: i);
                return new Boundary(gaps[i].FirstStep, gaps[i].EndStep, Heard: true, 1 / (1 + Math.Exp(other - best)));
            }),
        ];
    }

    /// <summary>With a sheet: exactly as many as it says; null when there is no way, because places are too few and lengths unknown.</summary>
    /// <param name="map">Where music lies.</param>
    /// <param name="gaps">Quiet stretches in order.</param>
    /// <param name="lengths">Of each track, seconds, null where not stated; as many as tracks.</param>
    /// <param name="shortestTrackSeconds">No track is shorter.</param>
    public static ImmutableArray<Boundary>? Exactly(MusicMap map, IReadOnlyList<Gap> gaps, ImmutableArray<double?> lengths, double shortestTrackSeconds)
    {
        if (lengths.Length == 1)
        {
            return [];
        }

        Solution? plain = Solve(map, gaps, lengths, 1, shortestTrackSeconds);
        if (plain is null || lengths.All(length => length is null))
        {
            return plain?.Boundaries;
        }

        // The lengths as the turntable played them: what the best division says of its speed is tried, and kept when all agree better.
        double speed = Speed(map, plain, lengths);
        Solution? scaled = Math.Abs(speed - 1) > 0.002 ? Solve(map, gaps, lengths, speed, shortestTrackSeconds) : null;
        double off = (speed - 1) / SpeedShare;
        return scaled is not null && scaled.Score - (0.5 * off * off) > plain.Score ? scaled.Boundaries : plain.Boundaries;
    }

    private static double Odds(Gap gap) => Math.Clamp(Math.Log(Math.Max(1e-6, gap.Confidence) / Math.Max(1e-6, 1 - gap.Confidence)), -SureOdds, SureOdds);

    private static (double Score, List<int> Chosen) Subset(MusicMap map, IReadOnlyList<Gap> gaps, double shortestTrackSeconds, int without)
    {
        int shortest = (int)(shortestTrackSeconds * Second);
        double[] best = new double[gaps.Count];
        int[] previous = new int[gaps.Count];
        int last = -1;
        double lastScore = 0;
        for (int i = 0; i < gaps.Count; i++)
        {
            best[i] = double.NegativeInfinity;
            previous[i] = -1;
            if (i == without)
            {
                continue;
            }

            double own = Odds(gaps[i]);
            if (gaps[i].FirstStep - map.FirstStep >= shortest)
            {
                best[i] = own;
            }

            for (int j = 0; j < i; j++)
            {
                if (gaps[i].FirstStep - gaps[j].EndStep >= shortest && best[j] + own > best[i])
                {
                    best[i] = best[j] + own;
                    previous[i] = j;
                }
            }

            if (map.EndStep - gaps[i].EndStep >= shortest && best[i] > lastScore)
            {
                lastScore = best[i];
                last = i;
            }
        }

        List<int> chosen = [];
        for (int i = last; i >= 0; i = previous[i])
        {
            chosen.Add(i);
        }

        chosen.Reverse();
        return (lastScore, chosen);
    }

    private static Solution? Solve(MusicMap map, IReadOnlyList<Gap> gaps, ImmutableArray<double?> lengths, double speed, double shortestTrackSeconds)
    {
        int count = lengths.Length - 1;
        Place[] places = [.. Places(map, gaps, lengths, speed).OrderBy(place => place.FirstStep).ThenBy(place => place.EndStep)];
        double[][] forward = [.. Enumerable.Range(0, count).Select(_ => new double[places.Length])];
        double[][] backward = [.. Enumerable.Range(0, count).Select(_ => new double[places.Length])];
        int[][] previous = [.. Enumerable.Range(0, count).Select(_ => new int[places.Length])];
        for (int k = 0; k < count; k++)
        {
            for (int i = 0; i < places.Length; i++)
            {
                forward[k][i] = double.NegativeInfinity;
                if (!places[i].MayBe(k))
                {
                    continue;
                }

                if (k == 0)
                {
                    forward[0][i] = places[i].Odds + Fit(map.FirstStep, places[i], lengths[0], speed, shortestTrackSeconds);
                    continue;
                }

                for (int j = 0; j < i; j++)
                {
                    if (forward[k - 1][j] == double.NegativeInfinity)
                    {
                        continue;
                    }

                    double sum = forward[k - 1][j] + places[i].Odds + Fit(places[j].EndStep, places[i], lengths[k], speed, shortestTrackSeconds);
                    if (sum > forward[k][i])
                    {
                        (forward[k][i], previous[k][i]) = (sum, j);
                    }
                }
            }
        }

        var end = new Place(map.EndStep, map.EndStep, 0, -1, Heard: true);
        for (int k = count - 1; k >= 0; k--)
        {
            for (int j = 0; j < places.Length; j++)
            {
                backward[k][j] = double.NegativeInfinity;
                if (k == count - 1)
                {
                    backward[k][j] = Fit(places[j].EndStep, end, lengths[count], speed, shortestTrackSeconds);
                    continue;
                }

                for (int i = j + 1; i < places.Length; i++)
                {
                    if (backward[k + 1][i] != double.NegativeInfinity && places[i].MayBe(k + 1))
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
            boundaries[k] = new Boundary(places[last].FirstStep, places[last].EndStep, places[last].Heard, Share(places, forward[k], backward[k], last));
            last = previous[k][last];
        }

        return new Solution(best, [.. boundaries]);
    }

    // Softmax over the best divisions through each place; a place beside the chosen one is the same.
    private static double Share(Place[] places, double[] forward, double[] backward, int chosen)
    {
        double best = forward[chosen] + backward[chosen];
        double same = 0;
        double all = 0;
        for (int i = 0; i < places.Length; i++)
        {
            double weight = Math.Exp(Math.Min(0, forward[i] + backward[i] - best));
            if (double.IsNaN(weight))
            {
                continue;
            }

            all += weight;
            if (Math.Abs(places[i].EndStep - places[chosen].EndStep) <= NearSteps)
            {
                same += weight;
            }
        }

        return same / all;
    }

    // Gaps may be any boundary. Where lengths lead on from the start, from a likely gap or back from the end, there may be one unheard.
    private static IEnumerable<Place> Places(MusicMap map, IReadOnlyList<Gap> gaps, ImmutableArray<double?> lengths, double speed)
    {
        foreach (Gap gap in gaps)
        {
            yield return new Place(gap.FirstStep, gap.EndStep, Odds(gap), -1, Heard: true);
        }

        // Seconds from the start to the end of each track as the sheet has it; not a number from the first track on whose length is not stated.
        double[] toEnd = new double[lengths.Length + 1];
        double[] fromStart = new double[lengths.Length + 1];
        for (int track = 0; track < lengths.Length; track++)
        {
            fromStart[track + 1] = fromStart[track] + (lengths[track] / speed ?? double.NaN);
        }

        for (int track = lengths.Length - 1; track >= 0; track--)
        {
            toEnd[track] = toEnd[track + 1] + (lengths[track] / speed ?? double.NaN);
        }

        Gap[] likely = [.. gaps.Where(gap => gap.Confidence >= LeadingConfidence).OrderByDescending(gap => gap.Confidence).Take(MostLeading)];
        for (int k = 0; k < lengths.Length - 1; k++)
        {
            HashSet<int> told = [];
            List<double> at = [map.FirstStep + (fromStart[k + 1] * Second), map.EndStep - (toEnd[k + 1] * Second)];
            foreach (Gap gap in likely)
            {
                for (int other = 0; other < lengths.Length - 1; other++)
                {
                    if (other != k)
                    {
                        double seconds = other < k ? fromStart[k + 1] - fromStart[other + 1] : toEnd[k + 1] - toEnd[other + 1];
                        at.Add(other < k ? gap.EndStep + (seconds * Second) : gap.FirstStep - (seconds * Second));
                    }
                }
            }

            foreach (int step in at.Where(double.IsFinite).Select(step => (int)Math.Round(step)))
            {
                if (step > map.FirstStep && step < map.EndStep && told.Count < MostUnheard && told.Add(step / NearSteps)
                    && !Array.Exists(likely, gap => step > gap.FirstStep - Second && step < gap.EndStep + Second))
                {
                    yield return new Place(step, step, UnheardOdds, k, Heard: false);
                }
            }
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
        return -2 * Math.Log(1 + (off * off / 4));
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

    private readonly record struct Place(int FirstStep, int EndStep, double Odds, int Only, bool Heard)
    {
        public bool MayBe(int boundary) => Only < 0 || Only == boundary;
    }
}
