using System.Collections.Immutable;

namespace Station.Audio.Meters;

/// <summary>Why a sample is not a possible sample.</summary>
public enum InvalidSampleKind
{
    /// <summary>Not a number.</summary>
    NotANumber,

    /// <summary>Plus or minus infinity.</summary>
    Infinite,

    /// <summary>A finite float beyond ±1.0.</summary>
    BeyondFullScale,
}

/// <summary>One invalid sample.</summary>
/// <param name="Channel">0 = left or only, 1 = right.</param>
/// <param name="Frame">Frame in the capture.</param>
/// <param name="Kind">What is wrong with it.</param>
public readonly record struct InvalidSample(int Channel, long Frame, InvalidSampleKind Kind);

/// <summary>Counts (samples, not frames) and places of invalid samples. Integer captures cannot hold any.</summary>
public sealed record InvalidSampleReading
{
    /// <summary>Samples that are not a number.</summary>
    public long NotANumber { get; init; }

    /// <summary>Infinite samples.</summary>
    public long Infinite { get; init; }

    /// <summary>Finite samples beyond ±1.0.</summary>
    public long BeyondFullScale { get; init; }

    /// <summary>Largest finite magnitude beyond 1.0, linear; 0 when there is none.</summary>
    public double LargestMagnitude { get; init; }

    /// <summary>How many each channel holds.</summary>
    public ImmutableArray<long> PerChannel { get; init; } = [];

    /// <summary>The first ones in order, at most <see cref="MeterSettings.MaxInvalidPositions"/>.</summary>
    public ImmutableArray<InvalidSample> First { get; init; } = [];

    /// <summary>Frame of the last one; null when there is none.</summary>
    public long? LastFrame { get; init; }

    /// <summary>All of them.</summary>
    public long Total => NotANumber + Infinite + BeyondFullScale;
}
