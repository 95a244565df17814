namespace Station.Audio.Meters;

/// <summary>A tick in one channel.</summary>
/// <param name="Piece">Which piece of the judged step.</param>
/// <param name="Peak">Largest prediction error, full scale 1.</param>
/// <param name="Strength">The same over the usual one around it.</param>
internal readonly record struct TickCandidate(int Piece, float Peak, float Strength);
