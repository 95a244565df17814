namespace Station.Audio.Meters.Skips;

/// <summary>One of the strongest bursts of slow stylus motion inside the music.</summary>
/// <param name="Seconds">When, counted from the first frame.</param>
/// <param name="HeightDb">Power in three bands of both motions, each over what five values in a thousand of this side exceed, added; dB.</param>
/// <param name="Continuity">
/// How well the music goes on across it, −1 to 1: the best correlation, over bands and directions, of what one side foretells with what the other has, at the instant where it is
/// worst. Music's own bursts have 0.3 to 1, a jump has −0.2 to 0.5 (measured on tuning sides).
/// </param>
public readonly record struct Knock(double Seconds, double HeightDb, double Continuity);
