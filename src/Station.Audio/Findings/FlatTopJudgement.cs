using System.Collections.Immutable;
using Station.Audio.Meters;

namespace Station.Audio.Findings;

/// <summary>What flat tops come to.</summary>
internal sealed record FlatTopJudgement
{
    /// <summary>There are none worth mention.</summary>
    public static FlatTopJudgement None { get; } = new();

    /// <summary>Null when there are none.</summary>
    public Severity? Severity { get; init; }

    /// <summary>The ceiling is a converter's own, short of its largest code.</summary>
    public bool AtConverter { get; init; }

    /// <summary>The level at which the wave stops, dBFS; the higher one of several.</summary>
    public double CeilingDbfs { get; init; }

    /// <summary>Channels concerned, 0 = left or only.</summary>
    public ImmutableArray<int> Channels { get; init; } = [];

    /// <summary>Tops and bottoms.</summary>
    public bool BothPolarities { get; init; }

    /// <summary>Where only one: tops.</summary>
    public bool Positive { get; init; }

    /// <summary>Flat tops in the music.</summary>
    public int Count { get; init; }

    /// <summary>The clearest of them in order of time; thinned where they are very many.</summary>
    public ImmutableArray<FlatTop> Places { get; init; } = [];
}
