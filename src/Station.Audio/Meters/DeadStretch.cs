namespace Station.Audio.Meters;

/// <summary>A stretch of the music in which one channel has nothing of its own.</summary>
/// <param name="Channel">0 = left, 1 = right.</param>
/// <param name="FirstStep">Its first step.</param>
/// <param name="EndStep">The step after its last.</param>
/// <param name="DifferenceDb">The channel over the other one while that is loud, groove band, dB, negative; null for digital silence.</param>
/// <param name="Whole">It is all of the music.</param>
/// <param name="NoiseBelowDb">How far the channel's noise lies below what the groove gives, dB, positive when it does; null for digital silence.</param>
public readonly record struct DeadStretch(int Channel, int FirstStep, int EndStep, double? DifferenceDb, bool Whole, double? NoiseBelowDb);
