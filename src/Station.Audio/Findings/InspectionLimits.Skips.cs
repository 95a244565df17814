namespace Station.Audio.Findings;

/// <content>Limits of jumps of the stylus.</content>
public sealed partial record InspectionLimits
{
    /// <summary>
    /// Least evidence of a jump, dB, 1 to 30: how far a knock stands above the other bursts of slow stylus motion inside the music (at most 8 dB), raised or lowered by its own strength (−3 to 4.5 dB), by how
    /// the music breaks off there (−2.6 to 6.8 dB), and by whether the beat goes on in step (−4 to 4 dB). Default 7 (measured on 964 tuning sides without a jump: three have more, and of 48 with a jump and a knock 36).
    /// </summary>
    public double SkipEvidenceDb { get; set; } = 7;

    /// <summary>Most continuity of the music, 0 to 1, at which it may have broken off. Default 0.75 (measured on tuning sides; a bump over which the music goes on has 0.87).</summary>
    public double SkipContinuity { get; set; } = 0.75;
}
