using System.Collections.Immutable;

namespace Station.Audio.Meters;

/// <summary>What was measured of the disc's turning and of the ticks in its groove.</summary>
public sealed record DiscReading
{
    /// <summary>Ticks.</summary>
    public TickReading Ticks { get; init; } = new();

    /// <summary>How often it ticks; null when it was not counted.</summary>
    public TickRates? TickRates { get; init; }

    /// <summary>Ticks that come back once per turn, in order of time.</summary>
    public ImmutableArray<Scratch> Scratches { get; init; } = [];

    /// <summary>How fast the turntable turned; null when nothing told.</summary>
    public RevolutionReading? Revolution { get; init; }

    /// <summary>How the pitch sways once per turn; null when the turn is unknown or too little could be followed.</summary>
    public Sway? Sway { get; init; }
}
