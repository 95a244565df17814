namespace Station.Evaluation.Scoring;

/// <summary>Found edges to true ones, one to one: the closest pair first, until no pair is within its tolerance.</summary>
public static class EdgeMatching
{
    /// <summary>Matches.</summary>
    /// <param name="truth">True places with what is still right: how much earlier, how much later, seconds.</param>
    /// <param name="found">Found places, seconds.</param>
    /// <returns>For each found place the index of its true one, −1 for none.</returns>
    public static int[] Match(IReadOnlyList<(double Seconds, double Early, double Late)> truth, IReadOnlyList<double> found)
    {
        ArgumentNullException.ThrowIfNull(truth);
        ArgumentNullException.ThrowIfNull(found);
        var pairs = new List<(double Distance, int True, int Found)>();
        for (int t = 0; t < truth.Count; t++)
        {
            for (int f = 0; f < found.Count; f++)
            {
                double off = found[f] - truth[t].Seconds;
                if (off >= -truth[t].Early && off <= truth[t].Late)
                {
                    pairs.Add((Math.Abs(off), t, f));
                }
            }
        }

        int[] matched = [.. Enumerable.Repeat(-1, found.Count)];
        var taken = new HashSet<int>();
        foreach ((_, int t, int f) in pairs.OrderBy(p => p.Distance).ThenBy(p => p.True).ThenBy(p => p.Found))
        {
            if (matched[f] < 0 && taken.Add(t))
            {
                matched[f] = t;
            }
        }

        return matched;
    }
}
