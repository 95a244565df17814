using Station.Evaluation.Dividing;
using Station.Evaluation.Judging;

namespace Station.Evaluation.Scoring;

/// <summary>How one side was divided with one guide.</summary>
public sealed record DivisionScore
{
    /// <summary>Further inside a track's music than this, a found edge cuts it, seconds.</summary>
    public const double CutSeconds = 1.5;

    /// <summary>So near an edge that only lengths can place, or that lies in a crowd's noise, nothing is a cut, seconds.</summary>
    public const double PlacedReachSeconds = 10;

    /// <summary>Names the side.</summary>
    public required string Name { get; init; }

    /// <summary>Tracks there are.</summary>
    public required int TrueTracks { get; init; }

    /// <summary>Tracks found.</summary>
    public required int FoundTracks { get; init; }

    /// <summary>Every start and end found.</summary>
    public required IReadOnlyList<FoundEdge> Edges { get; init; }

    /// <summary>How sure of the whole side.</summary>
    public required double Confidence { get; init; }

    /// <summary>Starts that are right.</summary>
    public int StartsRight => Edges.Count(e => e.IsStart && e.Right);

    /// <summary>Ends that are right.</summary>
    public int EndsRight => Edges.Count(e => !e.IsStart && e.Right);

    /// <summary>As many tracks as there are, each start and each end right.</summary>
    public bool SideRight => FoundTracks == TrueTracks && StartsRight == TrueTracks && EndsRight == TrueTracks;

    /// <summary>Found edges inside a track's music.</summary>
    public int Cuts => Edges.Count(e => e.Cuts);

    /// <summary>Scores a division.</summary>
    public static DivisionScore Of(string name, DividedTruth truth, FoundDivision found)
    {
        ArgumentNullException.ThrowIfNull(truth);
        ArgumentNullException.ThrowIfNull(found);
        TrueEdge[] starts = [.. truth.Tracks.Select(t => t.Start)];
        TrueEdge[] ends = [.. truth.Tracks.Select(t => t.End)];
        double[] foundStarts = [.. found.Tracks.Select(t => t.StartSeconds)];
        double[] foundEnds = [.. found.Tracks.Select(t => t.EndSeconds)];
        int[] rightStarts = EdgeMatching.Match([.. starts.Select(e => (e.Seconds, e.Early, e.Late))], foundStarts);
        int[] rightEnds = EdgeMatching.Match([.. ends.Select(e => (e.Seconds, e.Early, e.Late))], foundEnds);
        int[] closeStarts = EdgeMatching.Match([.. starts.Select(e => (e.Seconds, 0.5, 0.5))], foundStarts);
        int[] closeEnds = EdgeMatching.Match([.. ends.Select(e => (e.Seconds, 0.5, 0.5))], foundEnds);
        var edges = new List<FoundEdge>();
        for (int i = 0; i < found.Tracks.Count; i++)
        {
            double previousEnd = i == 0 ? double.NegativeInfinity : foundEnds[i - 1];
            edges.Add(new FoundEdge(true, foundStarts[i], found.Tracks[i].StartConfidence, rightStarts[i] >= 0, closeStarts[i] >= 0, Lost(truth, foundStarts[i], previousEnd), Inside(truth, foundStarts[i])));
            edges.Add(new FoundEdge(false, foundEnds[i], found.Tracks[i].EndConfidence, rightEnds[i] >= 0, closeEnds[i] >= 0, 0, Inside(truth, foundEnds[i])));
        }

        return new DivisionScore { Name = name, TrueTracks = truth.Tracks.Count, FoundTracks = found.Tracks.Count, Edges = edges, Confidence = found.Confidence };
    }

    private static double Lost(DividedTruth truth, double start, double previousEnd)
    {
        TrueTrack? around = truth.Tracks.FirstOrDefault(t => start > t.MusicStartSeconds && start <= t.MusicEndSeconds);
        return around is null ? 0 : Math.Max(0, start - Math.Max(around.MusicStartSeconds, previousEnd));
    }

    private static bool Inside(DividedTruth truth, double seconds) =>
        truth.Tracks.Any(t => seconds > t.MusicStartSeconds + CutSeconds && seconds < t.MusicEndSeconds - CutSeconds)
        && !truth.Tracks.SelectMany(t => (TrueEdge[])[t.Start, t.End]).Any(e => e.Placed && seconds > e.Seconds - PlacedReachSeconds && seconds < e.Seconds + PlacedReachSeconds);
}
