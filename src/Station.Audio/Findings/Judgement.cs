using System.Collections.Immutable;

namespace Station.Audio.Findings;

/// <summary>What the meters' reading means.</summary>
/// <param name="Findings">In order of severity, worst first; empty when nothing is to be said.</param>
/// <param name="Level">How far to move the recording level.</param>
public sealed record Judgement(ImmutableArray<Finding> Findings, LevelAdvice Level)
{
    /// <summary>The closed groove with music that the side ends in; null when it ends otherwise.</summary>
    public LockedGroove? Locked { get; init; }
}
