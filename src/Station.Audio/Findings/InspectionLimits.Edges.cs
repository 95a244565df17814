namespace Station.Audio.Findings;

/// <content>What is missing at a side's edges, and what is too much.</content>
public sealed partial record InspectionLimits
{
    /// <summary>Music that begins within this of the file's start, or ends within it of the file's end, goes over the edge; seconds, 0.05 to 0.5. Default 0.25 (own choice).</summary>
    public double EdgeSeconds { get; set; } = 0.25;

    /// <summary>Music at the file's edge stands at least this far above the groove's noise in the second at the edge; dB, 3 to 30. Default 6 (own choice).</summary>
    public double EdgeMusicDb { get; set; } = 6;

    /// <summary>
    /// A side that ends in bare groove, without lift, and holds less than this share of the sheet's printed lengths ended early; 0.3 to 0.97. Default 0.85:
    /// printed lengths are off by some per cent, speeds by less (own choice).
    /// </summary>
    public double ShortSideShare { get; set; } = 0.85;

    /// <summary>
    /// The same where the stylus was seen to be lifted; 0.3 to 0.97. Default 0.65: a side played at 45 instead of 33⅓ lasts 0.74 of its time (computed), and that is no
    /// missing music.
    /// </summary>
    public double ShortLiftedSideShare { get; set; } = 0.65;

    /// <summary>Shorter missing music than this is not told from the printed lengths; seconds, 5 to 300. Default 15 (own choice).</summary>
    public double LeastMissingSeconds { get; set; } = 15;

    /// <summary>Longest time after the stylus was lifted that is not worth a remark, seconds, 10 to 3600. Default 45 (own choice).</summary>
    public double DeadAirSeconds { get; set; } = 45;
}
