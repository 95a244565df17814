namespace Station.Evaluation.Judging;

/// <summary>A track somebody found.</summary>
/// <param name="StartSeconds">Its start in the capture.</param>
/// <param name="EndSeconds">Its end.</param>
/// <param name="StartConfidence">How sure of the start, 0 to 1; NaN when nothing is said.</param>
/// <param name="EndConfidence">How sure of the end, 0 to 1; NaN when nothing is said.</param>
public sealed record FoundTrack(double StartSeconds, double EndSeconds, double StartConfidence, double EndConfidence);
