namespace Station.Daemon.Records;

/// <summary>Finds the word somebody probably meant.</summary>
internal static class NearestWord
{
    /// <summary>
    /// The candidate fewest single-character changes away (insert, remove, replace, swap neighbours; case ignored), when that is at most a third of
    /// the longer word, else null.
    /// </summary>
    public static string? Of(string word, IEnumerable<string> candidates)
    {
        if (word.Length > 64)
        {
            return null;
        }

        string? best = null;
        int bestDistance = int.MaxValue;
        foreach (string candidate in candidates)
        {
            int distance = Distance(word.ToUpperInvariant(), candidate.ToUpperInvariant());
            if (distance < bestDistance && distance * 3 <= Math.Max(word.Length, candidate.Length))
            {
                best = candidate;
                bestDistance = distance;
            }
        }

        return best;
    }

    private static int Distance(string a, string b)
    {
        int[,] d = new int[a.Length + 1, b.Length + 1];
        for (int i = 0; i <= a.Length; i++)
        {
            d[i, 0] = i;
        }

        for (int j = 0; j <= b.Length; j++)
        {
            d[0, j] = j;
        }

        for (int i = 1; i <= a.Length; i++)
        {
            for (int j = 1; j <= b.Length; j++)
            {
                int change = a[i - 1] == b[j - 1] ? 0 : 1;
                int best = Math.Min(Math.Min(d[i - 1, j] + 1, d[i, j - 1] + 1), d[i - 1, j - 1] + change);
                if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
                {
                    best = Math.Min(best, d[i - 2, j - 2] + 1);
                }

                d[i, j] = best;
            }
        }

        return d[a.Length, b.Length];
    }
}
