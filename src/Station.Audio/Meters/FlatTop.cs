namespace Station.Audio.Meters;

/// <summary>A top of the wave that is flat in time.</summary>
/// <param name="FirstFrame">Its first frame.</param>
/// <param name="Frames">Its length.</param>
/// <param name="Level">Mean magnitude over its length, full scale 1.0.</param>
/// <param name="Spread">Highest less lowest magnitude within it, full scale 1.0.</param>
/// <param name="Same">Most samples of the same value in a row within it.</param>
public readonly record struct FlatTop(long FirstFrame, int Frames, float Level, float Spread, int Same);
