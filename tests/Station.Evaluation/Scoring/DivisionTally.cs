namespace Station.Evaluation.Scoring;

/// <summary>Sums over some divided sides.</summary>
/// <param name="Scores">The sides.</param>
public sealed record DivisionTally(IReadOnlyList<DivisionScore> Scores)
{
    /// <summary>Sides.</summary>
    public int Sides => Scores.Count;

    /// <summary>Sides entirely right.</summary>
    public int SidesRight => Scores.Count(s => s.SideRight);

    /// <summary>Tracks there are: as many starts and as many ends.</summary>
    public int TrueTracks => Scores.Sum(s => s.TrueTracks);

    /// <summary>Tracks found.</summary>
    public int FoundTracks => Scores.Sum(s => s.FoundTracks);

    /// <summary>Starts that are right.</summary>
    public int StartsRight => Scores.Sum(s => s.StartsRight);

    /// <summary>Ends that are right.</summary>
    public int EndsRight => Scores.Sum(s => s.EndsRight);

    /// <summary>Found edges inside a track's music.</summary>
    public int Cuts => Scores.Sum(s => s.Cuts);

    /// <summary>Every found edge.</summary>
    public IEnumerable<FoundEdge> Edges => Scores.SelectMany(s => s.Edges);

    /// <summary>Music lost before found starts, seconds, in order of size.</summary>
    public double[] Losses => [.. Edges.Where(e => e.IsStart).Select(e => e.LostSeconds).Order()];

    /// <summary>Starts said to be at least 0.9 sure, and how many of them lose more than half a second.</summary>
    public (int Losing, int Count) SureStarts
    {
        get
        {
            FoundEdge[] sure = [.. Edges.Where(e => e.IsStart && e.Confidence >= 0.9)];
            return (sure.Count(e => e.LostSeconds > 0.5), sure.Length);
        }
    }

    /// <summary>The value that a share of the sorted values does not exceed; NaN when there are none.</summary>
    public static double Quantile(double[] sorted, double share)
    {
        ArgumentNullException.ThrowIfNull(sorted);
        return sorted.Length == 0 ? double.NaN : sorted[Math.Clamp((int)Math.Ceiling(share * sorted.Length) - 1, 0, sorted.Length - 1)];
    }
}
