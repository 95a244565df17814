namespace Station.Audio.Meters;

/// <summary>A tick in one channel.</summary>
/// <param name="Piece">Which piece of the judged step.</param>
/// <param name="Height">How far the wave leaves its course, full scale 1.</param>
/// <param name="Strength">Largest prediction error over the usual one around it.</param>
internal readonly record struct TickCandidate(int Piece, float Height, float Strength);
