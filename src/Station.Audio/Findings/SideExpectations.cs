using System.Collections.Immutable;

namespace Station.Audio.Findings;

/// <summary>What is known of a side before it is heard: from its record sheet. Everything is optional.</summary>
public sealed record SideExpectations
{
    /// <summary>Nothing is known.</summary>
    public static SideExpectations None { get; } = new();

    /// <summary>Speeds that count as right for the disc, revolutions per minute (78 has two); empty when unknown.</summary>
    public ImmutableArray<double> NominalRpm { get; init; } = [];

    /// <summary>Speed it was played at when that was another one on purpose, revolutions per minute.</summary>
    public double? PlayedAtRpm { get; init; }

    /// <summary>Whether the side is cut in mono; null when unknown.</summary>
    public bool? Mono { get; init; }

    /// <summary>Sum of the printed lengths, seconds, when every track has one; null otherwise.</summary>
    public double? MusicSeconds { get; init; }

    /// <summary>The printed lengths, seconds, when every track has one; empty otherwise.</summary>
    public ImmutableArray<double> TrackSeconds { get; init; } = [];

    /// <summary>Tracks the sheet lists; null when unknown.</summary>
    public int? TrackCount { get; init; }

    /// <summary>Time constants the disc was cut with, µs (bass shelf, turnover, treble; 0 for one that is absent); empty when unknown.</summary>
    public ImmutableArray<double> CurveMicroseconds { get; init; } = [];

    /// <summary>Whether the capture was made without a replay curve on purpose; null when unknown.</summary>
    public bool? PlayedFlat { get; init; }

    /// <summary>The capture is a later part of a take: it may begin inside the music.</summary>
    public bool BeginsInside { get; init; }

    /// <summary>The capture is a part of a take with more to come: it may end inside the music.</summary>
    public bool GoesOn { get; init; }

    /// <summary>Programme peak of the take before this one, dBFS; null when there is none or it is not known.</summary>
    public double? PreviousPeakDbfs { get; init; }

    /// <summary>Whether the take before this one had flat tops below full scale; null when there is none or it is not known.</summary>
    public bool? PreviousFlatTops { get; init; }
}
