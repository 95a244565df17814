namespace Station.Audio.Meters.Skips;

/// <summary>One of the strongest bursts of slow stylus motion inside the music.</summary>
/// <param name="Seconds">When, counted from the first frame.</param>
/// <param name="HeightDb">Power in three bands of both motions, each over what five values in a thousand of this side exceed, weighted and added; dB.</param>
/// <param name="Continuity">
/// How well the music goes on across it, −1 to 1: the best correlation, over bands and directions, of what one side foretells with what the other has, at the instant where it is
/// worst. Music's own bursts have 0.3 to 1, a jump has −0.2 to 0.5 (measured on tuning sides).
/// </param>
public readonly record struct Knock(double Seconds, double HeightDb, double Continuity)
{
    /// <summary>
    /// How much less goes on there than a quarter of a second around, where the music can be foretold as well or as badly: mean over bands, −2 to 2; 0 where nearly all goes on. Jumps have 0.1 to 0.9, music's own bursts −0.05 to 0.5
    /// (measured on tuning sides).
    /// </summary>
    public double Break { get; init; }

    /// <summary>Whether the beat goes on in step, above 0, or was shifted, below −0.4: <see cref="BeatContinuity"/>; null where it says nothing.</summary>
    public double? Beat { get; init; }

    /// <summary>
    /// How far the phases of the notes fail to go on (<see cref="PhaseContinuity"/>): 0 where nothing can be told, negative where they go on. Of jumps two in five have more than 10, of music's own bursts
    /// six in a thousand (measured on tuning sides).
    /// </summary>
    public double Phases { get; init; }

    /// <summary>From the moment the burst's power is highest to the instant at which least goes on, seconds, −0.09 to 0.01. The arm swings after it has jumped.</summary>
    public double LagSeconds { get; init; }
}
