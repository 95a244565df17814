using System.Collections.Immutable;

namespace Station.Audio.Meters;

/// <summary>How one channel's samples are distributed by magnitude, upwards and downwards.</summary>
public sealed record AmplitudeReading
{
    /// <summary>Levels held for each polarity.</summary>
    public const int Levels = 16;

    /// <summary>Share of the samples of ten seconds that exceed a segment's levels.</summary>
    public const double SegmentShare = 0.000316;

    /// <summary>Seconds of a segment; the last may be shorter.</summary>
    public const int SegmentSeconds = 10;

    /// <summary>Levels that shares of <see cref="ShareOf"/> of all samples exceed upwards; full scale 1.0, mean taken off; 0 or below where there is nothing.</summary>
    public required ImmutableArray<double> Positive { get; init; }

    /// <summary>The same downwards, as magnitudes.</summary>
    public required ImmutableArray<double> Negative { get; init; }

    /// <summary>Ten seconds at a time.</summary>
    public required ImmutableArray<AmplitudeSegment> Segments { get; init; }

    /// <summary>The share of level <paramref name="index"/>: from 5.6 % (10^−1.25) down by 10^−0.25 to one in a hundred thousand.</summary>
    public static double ShareOf(int index) => Math.Pow(10, -1.25 - (0.25 * index));
}
