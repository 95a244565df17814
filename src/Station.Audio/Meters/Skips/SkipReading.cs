using System.Collections.Immutable;

namespace Station.Audio.Meters.Skips;

/// <summary>What may tell that the stylus was thrown forward.</summary>
public sealed record SkipReading
{
    /// <summary>The strongest bursts of slow motion inside the music, strongest first, at most <see cref="SkipMeter.Told"/>.</summary>
    public ImmutableArray<Knock> Knocks { get; init; } = [];
}
