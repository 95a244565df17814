namespace Station.Audio.Meters;

/// <summary>One impulse that the wave around it does not explain: dust, a scratch, a crackle, a static discharge.</summary>
/// <param name="Frame">Where it is strongest, to a fifth of a millisecond.</param>
/// <param name="PeakDbfs">How far the wave leaves its course of the two milliseconds around it, dBFS.</param>
/// <param name="StrengthDb">Prediction error above the usual one around it (the median of peaks over a third of a millisecond), dB.</param>
/// <param name="Left">Heard in the left or only channel.</param>
/// <param name="Right">Heard in the right channel.</param>
public readonly record struct Tick(long Frame, float PeakDbfs, float StrengthDb, bool Left, bool Right);
