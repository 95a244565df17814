namespace Station.Evaluation.Scoring;

/// <summary>One start or end that was found.</summary>
/// <param name="IsStart">A start; else an end.</param>
/// <param name="Seconds">Its place.</param>
/// <param name="Confidence">How sure it was said to be; NaN when nothing was said.</param>
/// <param name="Right">Matched with a true one within that one's tolerance.</param>
/// <param name="WithinHalfSecond">Matched with a true one within half a second.</param>
/// <param name="LostSeconds">Music lost before a start: what of the track around it lies before it and after the last end. 0 for ends.</param>
/// <param name="Cuts">Lies inside a track's music.</param>
public sealed record FoundEdge(bool IsStart, double Seconds, double Confidence, bool Right, bool WithinHalfSecond, double LostSeconds, bool Cuts);
