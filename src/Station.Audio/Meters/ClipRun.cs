namespace Station.Audio.Meters;

/// <summary>Consecutive samples of one channel at the converter's full scale.</summary>
/// <param name="Channel">0 = left or only, 1 = right.</param>
/// <param name="FirstFrame">Frame of the first sample of the run.</param>
/// <param name="Frames">Length.</param>
/// <param name="Positive">True at the top, false at the bottom.</param>
/// <param name="OvershootDb">How far the wave would have gone beyond full scale, dB, from the slopes at the run's edges; null when neither edge tells.</param>
public readonly record struct ClipRun(int Channel, long FirstFrame, int Frames, bool Positive, double? OvershootDb);
