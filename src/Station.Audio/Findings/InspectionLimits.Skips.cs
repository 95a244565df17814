namespace Station.Audio.Findings;

/// <content>Limits of jumps of the stylus.</content>
public sealed partial record InspectionLimits
{
    /// <summary>
    /// Least evidence of a jump, dB of odds, 1 to 30: how far a knock stands above the other bursts of slow stylus motion inside the music, its own strength, how the music, the phases of its notes and its
    /// beat break off there, whether a joint is there, and whether the sheet's lengths lack something. Default 9 (measured: of 450 clean tuning sides of four minutes 9 have more, at 7 it were 14; of 60 with a jump and a knock 47, at 7 as many).
    /// </summary>
    public double SkipEvidenceDb { get; set; } = 9;

    /// <summary>Most continuity of the music, 0 to 1, at which it may have broken off. Default 0.75 (measured on tuning sides; a bump over which the music goes on has 0.87).</summary>
    public double SkipContinuity { get; set; } = 0.75;
}
