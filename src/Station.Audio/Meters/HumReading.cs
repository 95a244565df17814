using System.Collections.Immutable;

namespace Station.Audio.Meters;

/// <summary>Mains hum that was found.</summary>
public sealed record HumReading
{
    /// <summary>Mean frequency of the fundamental, Hz; within 0.3 Hz of 50 or 60.</summary>
    public required double FundamentalHz { get; init; }

    /// <summary>Peak of the fundamental in each channel, dBFS (a full-scale sine reads 0); null where it cannot be told from noise.</summary>
    public ImmutableArray<double?> LevelDbfs { get; init; } = [];

    /// <summary>Whether it was measured where no music plays; if not, the level may be some decibels too high.</summary>
    public bool IsHeardInQuiet { get; init; }

    /// <summary>Harmonics of it that were found as well.</summary>
    public int Harmonics { get; init; }
}
