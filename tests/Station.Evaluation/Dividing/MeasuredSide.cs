using Station.Audio.Meters;
using Station.Evaluation.Judging;

namespace Station.Evaluation.Dividing;

/// <summary>What of a side is needed to divide it and to score that.</summary>
/// <param name="Envelope">Its level, as measured.</param>
/// <param name="Truth">Where its tracks are.</param>
/// <param name="Naive">What a fixed threshold makes of it, by its level in dBFS.</param>
public sealed record MeasuredSide(LevelEnvelope Envelope, DividedTruth Truth, IReadOnlyDictionary<double, FoundDivision> Naive);
