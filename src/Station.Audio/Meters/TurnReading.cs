namespace Station.Audio.Meters;

/// <summary>What was measured of the disc's turning and of the ticks in its groove.</summary>
public sealed record TurnReading
{
    /// <summary>Ticks.</summary>
    public TickReading Ticks { get; init; } = new();

    /// <summary>How fast the turntable turned; null when nothing told.</summary>
    public RevolutionReading? Revolution { get; init; }
}
