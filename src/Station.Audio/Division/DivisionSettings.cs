namespace Station.Audio.Division;

/// <summary>How a side is divided into tracks. Bound from configuration.</summary>
public sealed record DivisionSettings
{
    /// <summary>
    /// How far the bands that stand out most must stand out of the groove's own noise for a step to be as likely music as groove, in standard deviations of bare groove, 0.5 to 6. Default 2.2 (own choice, from trials).
    /// </summary>
    public double QuietMargin { get; set; } = 2.2;

    /// <summary>Shortest track, seconds. Shorter pieces join a neighbour unless the sheet asks for them. Default 20 (own choice).</summary>
    public double ShortestTrackSeconds { get; set; } = 20;

    /// <summary>Shortest gap taken without a sheet, seconds. With a sheet's count, gaps down to half of it are considered. Default 0.8 (own choice; a gap of one turn at 45 is 1.33 s).</summary>
    public double ShortestGapSeconds { get; set; } = 0.8;

    /// <summary>A division less sure than this is for a person to look at, 0 to 1. Default 0.5 (own choice).</summary>
    public double LeastConfidence { get; set; } = 0.5;

    /// <summary>
    /// Where a side ends in a closed groove with music, the last track ends so many turns after that turn began, its first playing included; 1 to 1000. Default 4 (own choice: seven
    /// seconds of a long-playing record, enough to hear that it goes on).
    /// </summary>
    public int LockedGrooveTurns { get; set; } = 4;

    /// <summary>When the stylus counts as lifted inside a capture.</summary>
    public StylusSettings Stylus { get; set; } = new();
}
