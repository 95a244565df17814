using System.Collections.Immutable;

namespace Station.Audio.Division;

/// <summary>What a record sheet says about the side.</summary>
/// <param name="TrackCount">Tracks on the side; null when unknown.</param>
/// <param name="LengthsSeconds">Length of each, seconds, null where not stated; empty when none is. Used only when it has one entry per track.</param>
public sealed record DivisionGuide(int? TrackCount, ImmutableArray<double?> LengthsSeconds)
{
    /// <summary>Nothing is known.</summary>
    public static DivisionGuide None { get; } = new(null, []);
}
