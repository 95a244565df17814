using System.ComponentModel.DataAnnotations;

namespace Station.Audio.Division;

/// <summary>How a side is divided into tracks. Bound from configuration.</summary>
public sealed record DivisionSettings
{
    /// <summary>
    /// How far the bands that stand out most must stand out of the groove's own noise for a step to be as likely music as groove, in standard deviations of bare groove, 0.5 to 6. Default 2.2 (own choice, from trials).
    /// </summary>
    [Range(0.5, 6.0)]
    public double QuietMargin { get; set; } = 2.2;

    /// <summary>Shortest track, seconds, 1 to 600. Shorter pieces join a neighbour unless the sheet asks for them. Default 20 (own choice).</summary>
    [Range(1.0, 600.0)]
    public double ShortestTrackSeconds { get; set; } = 20;

    /// <summary>Shortest gap taken without a sheet, seconds, 0.1 to 30. With a sheet's count, gaps down to half of it are considered. Default 0.8 (own choice; a gap of one turn at 45 is 1.33 s).</summary>
    [Range(0.1, 30.0)]
    public double ShortestGapSeconds { get; set; } = 0.8;

    /// <summary>A division less sure than this is for a person to look at, 0 to 1. Default 0.5 (own choice).</summary>
    [Range(0.0, 1.0)]
    public double LeastConfidence { get; set; } = 0.5;

    /// <summary>
    /// Without a sheet a side at 45 rev/min with no more music than this is taken for a single and not split at a pause, seconds, 60 to 1200. Default 300 (common practice, no source:
    /// seven-inch singles rarely hold more than five minutes).
    /// </summary>
    [Range(60.0, 1200.0)]
    public double LongestSingleSeconds { get; set; } = 300;

    /// <summary>A track begins this long before its music is heard, seconds, 0 to 2, where the gap has room. Default 0.06 (own choice: three steps of the envelope, which is as sure as a start is placed).</summary>
    [Range(0.0, 2.0)]
    public double PadBeforeSeconds { get; set; } = 0.06;

    /// <summary>A track ends this long after its music is lost in the noise, seconds, 0 to 2, where the gap has room. Default 0.1 (own choice).</summary>
    [Range(0.0, 2.0)]
    public double PadAfterSeconds { get; set; } = 0.1;

    /// <summary>
    /// Where a side ends in a closed groove with music, the last track ends so many turns after that turn began, its first playing included; 1 to 1000. Default 4 (own choice: seven
    /// seconds of a long-playing record, enough to hear that it goes on).
    /// </summary>
    [Range(1, 1000)]
    public int LockedGrooveTurns { get; set; } = 4;

    /// <summary>When the stylus counts as lifted inside a capture.</summary>
    public StylusSettings Stylus { get; set; } = new();
}
