using System.Collections.Immutable;

namespace Station.Audio.Meters;

/// <summary>Places at which a converter's samples are missing, repeated or replaced by zeros.</summary>
public sealed record LossReading
{
    /// <summary>Runs of exact zeros in all channels inside sound, in order of time; at most <see cref="LossMeter.MaxPlaces"/>.</summary>
    public ImmutableArray<ZeroRun> ZeroRuns { get; init; } = [];

    /// <summary>Stretches that repeat what came just before, word for word, in order of time; at most <see cref="LossMeter.MaxPlaces"/>.</summary>
    public ImmutableArray<RepeatedRun> Repeats { get; init; } = [];

    /// <summary>Instants between two frames that do not belong together, in order of time; at most <see cref="LossMeter.MaxPlaces"/>.</summary>
    public ImmutableArray<Joint> Joints { get; init; } = [];
}

/// <summary>Exact zeros between sound.</summary>
/// <param name="FirstFrame">The first zero.</param>
/// <param name="Frames">How many.</param>
public readonly record struct ZeroRun(long FirstFrame, int Frames);

/// <summary>A stretch whose frames are those that came <paramref name="LagFrames"/> before, bit for bit.</summary>
/// <param name="FirstFrame">The first repeated frame.</param>
/// <param name="Frames">How many.</param>
/// <param name="LagFrames">How far back the originals lie.</param>
public readonly record struct RepeatedRun(long FirstFrame, int Frames, int LagFrames);
