namespace Station.Audio.Findings;

/// <summary>What is held against what. Bound from configuration; every limit's default says where it comes from.</summary>
public sealed partial record InspectionLimits
{
    /// <summary>Highest programme peak the next take should have, dBFS, −20 to −1. Default −6 (common practice for 24-bit captures, no source).</summary>
    public double TargetPeakDbfs { get; set; } = -6;

    /// <summary>Least headroom above the sample peak, dB. Default 1 (common practice; −1 dBTP is the programme limit of EBU R 128, second-hand).</summary>
    public double LeastHeadroomDb { get; set; } = 1;

    /// <summary>Lowest programme peak, dBFS. Default −24: 16 bits then still hold 12 bits of programme (computed: 16 − 24/6.02); the choice is this project's.</summary>
    public double LowestProgrammePeakDbfs { get; set; } = -24;

    /// <summary>DC that is remarked on, fraction of full scale. Default 0.001, −60 dBFS (common practice, no source).</summary>
    public double DcOffsetNote { get; set; } = 0.001;

    /// <summary>DC that a person should look at, fraction of full scale. Default 0.01, −40 dBFS (own choice: it costs 0.09 dB of headroom and clicks at each cut).</summary>
    public double DcOffsetReview { get; set; } = 0.01;

    /// <summary>Most clipped runs in music that still leave the decision to a person. Default 5 (own choice, no source).</summary>
    public int FewClipRuns { get; set; } = 5;

    /// <summary>Longest single run that still counts as short, milliseconds. Default 1, the length of a tick (from memory of the literature on clicks).</summary>
    public double ShortClipRunMilliseconds { get; set; } = 1;

    /// <summary>
    /// Music whose loudest steps near a clipped run stay below this cannot have clipped there: it was a tick. dBFS. Default −6 (ticks top
    /// the music by 6 to 20 dB: common practice, no source).
    /// </summary>
    public double MusicNearClippingDbfs { get; set; } = -6;

    /// <summary>Surroundings whose median step peak is below this hold no music: needle set-down, lift, a bump. dBFS. Default −26 (own choice).</summary>
    public double QuietSurroundingsDbfs { get; set; } = -26;

    /// <summary>Time at either end of the sound in which the needle is set down or lifted, seconds. Default 3 (own choice).</summary>
    public double NeedleSeconds { get; set; } = 3;

    /// <summary>Severities that replace the judged ones, by finding code. Default: none.</summary>
    public IDictionary<string, Severity> Severities { get; set; } = new Dictionary<string, Severity>(StringComparer.Ordinal);
}
