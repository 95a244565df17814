namespace Station.Evaluation.Judging;

/// <summary>How somebody divided a side.</summary>
/// <param name="Tracks">In order.</param>
/// <param name="Confidence">How sure of all of it, 0 to 1; NaN when nothing is said.</param>
public sealed record FoundDivision(IReadOnlyList<FoundTrack> Tracks, double Confidence);
