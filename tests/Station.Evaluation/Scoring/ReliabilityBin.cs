namespace Station.Evaluation.Scoring;

/// <summary>Edges said to be about so sure, and how many of them were.</summary>
/// <param name="From">Least confidence in it.</param>
/// <param name="To">Confidence from which the next begins; 1 belongs to the last.</param>
/// <param name="Edges">What was found.</param>
public sealed record ReliabilityBin(double From, double To, IReadOnlyList<FoundEdge> Edges)
{
    /// <summary>Bins of a table.</summary>
    public const int Bins = 10;

    /// <summary>Mean confidence said; NaN when empty.</summary>
    public double Said => Edges.Count == 0 ? double.NaN : Edges.Average(e => e.Confidence);

    /// <summary>Edges within half a second of a true one.</summary>
    public int WithinHalfSecond => Edges.Count(e => e.WithinHalfSecond);

    /// <summary>Edges within their own tolerance.</summary>
    public int Right => Edges.Count(e => e.Right);

    /// <summary>Sorts edges into bins of a tenth; those of which nothing was said are left out.</summary>
    public static IReadOnlyList<ReliabilityBin> Of(IEnumerable<FoundEdge> edges)
    {
        ILookup<int, FoundEdge> sorted = edges.Where(e => double.IsFinite(e.Confidence)).ToLookup(e => Math.Clamp((int)(e.Confidence * Bins), 0, Bins - 1));
        return [.. Enumerable.Range(0, Bins).Select(i => new ReliabilityBin((double)i / Bins, (i + 1.0) / Bins, [.. sorted[i]]))];
    }
}
