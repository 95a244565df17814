namespace Station.Audio.Findings;

/// <summary>How far to move the recording level.</summary>
/// <param name="RecommendedChangeDb">dB, in half decibels, negative is down, so that the next take peaks at the target; null when nothing can be said.</param>
/// <param name="TargetPeakDbfs">The peak aimed at.</param>
public sealed record LevelAdvice(double? RecommendedChangeDb, double TargetPeakDbfs);
