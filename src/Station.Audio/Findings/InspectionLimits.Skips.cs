namespace Station.Audio.Findings;

/// <content>Limits of jumps of the stylus.</content>
public sealed partial record InspectionLimits
{
    /// <summary>
    /// Least evidence of a jump, dB, 1 to 30: how far a knock stands above the next strongest burst of slow stylus motion inside the music, plus 2 dB for each unit by which less than half of the
    /// music goes on across it, plus half of what it stands above 10 dB over the side's strong bursts (at most 2 dB either way). Default 4.7 (own choice: of 120 clean tuning sides the highest has 3.8).
    /// </summary>
    public double SkipEvidenceDb { get; set; } = 4.7;

    /// <summary>Most continuity of the music, 0 to 1, at which it may have broken off. Default 0.75 (measured on tuning sides; a bump over which the music goes on has 0.87).</summary>
    public double SkipContinuity { get; set; } = 0.75;
}
