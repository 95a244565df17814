using System.Collections.Immutable;
using Station.Audio.Findings;

namespace Station.Audio.Division;

/// <summary>What is known of a side beside its level: from the record sheet, and from its inspection.</summary>
/// <param name="TrackCount">Tracks on the side; null when unknown.</param>
/// <param name="LengthsSeconds">Length of each, seconds, null where not stated; empty when none is. Used only when it has one entry per track.</param>
public sealed record DivisionGuide(int? TrackCount, ImmutableArray<double?> LengthsSeconds)
{
    /// <summary>Nothing is known.</summary>
    public static DivisionGuide None { get; } = new(null, []);

    /// <summary>The disc's speed, rev/min, as the sheet says or as it was measured; null when not known. Used only without a count.</summary>
    public double? Rpm { get; init; }

    /// <summary>The closed groove with music that the inspection found at the end, in the time of the envelope; null when it found none.</summary>
    public LockedGroove? Locked { get; init; }
}
