using System.Collections.Immutable;
using Station.Audio.Findings;

namespace Station.Audio.Division;

/// <summary>What a division rests on.</summary>
public enum DivisionMethod
{
    /// <summary>Gaps heard between the tracks, with or without a count from the sheet.</summary>
    Gaps,

    /// <summary>Lengths from the sheet, where no gap was heard.</summary>
    Sheet,

    /// <summary>A cue sheet's starts.</summary>
    Cue,

    /// <summary>One track from first sound to last.</summary>
    WholeSide,
}

/// <summary>One track.</summary>
/// <param name="Number">From 1, on this side.</param>
/// <param name="FirstFrame">Its first frame in the capture.</param>
/// <param name="EndFrame">The frame after its last.</param>
/// <param name="StartConfidence">0 to 1 that it begins within half a second of here.</param>
/// <param name="EndConfidence">0 to 1 that it ends within a second of here.</param>
public sealed record TrackSpan(int Number, long FirstFrame, long EndFrame, double StartConfidence, double EndConfidence)
{
    /// <summary>0 to 1: the less sure of its two ends.</summary>
    public double Confidence => Math.Min(StartConfidence, EndConfidence);
}

/// <summary>Another place where tracks may meet.</summary>
/// <param name="InsteadOf">Number of the track that would begin here and not where it was cut; null where one more track would begin.</param>
/// <param name="EndFrame">Where the track before would end.</param>
/// <param name="StartFrame">Where it would begin.</param>
/// <param name="Confidence">0 to 1 that tracks meet here.</param>
/// <param name="Why">What speaks for it, in plain words.</param>
public sealed record OtherPlace(int? InsteadOf, long EndFrame, long StartFrame, double Confidence, string Why);

/// <summary>Where the tracks of a side begin and end.</summary>
/// <param name="Method">What it rests on.</param>
/// <param name="Confidence">0 to 1 that tracks meet where they are cut, at the least sure place; how sharp the edges are is each track's.</param>
/// <param name="Tracks">In order, apart from each other, inside the capture. Empty only together with a finding that asks for a person.</param>
/// <param name="Findings"><c>tracks-unexpected</c> and <c>division-unsure</c>.</param>
public sealed record SideDivision(
    DivisionMethod Method,
    double Confidence,
    ImmutableArray<TrackSpan> Tracks,
    ImmutableArray<Finding> Findings)
{
    /// <summary>Where else tracks may meet, in order of time: beside boundaries that are not sure, and beside a division that is for a person to look at.</summary>
    public ImmutableArray<OtherPlace> OtherPlaces { get; init; } = [];
}
