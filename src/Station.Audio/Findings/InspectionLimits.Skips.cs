namespace Station.Audio.Findings;

/// <content>Limits of jumps of the stylus.</content>
public sealed partial record InspectionLimits
{
    /// <summary>
    /// Least height of a knock over the next strongest burst of slow stylus motion inside the music, dB, 1 to 30, where the music breaks off there. Default 5 (own choice: clean tuning sides stay below 4, jumps with a knock of −22 dBFS lie at 4 to 18).
    /// </summary>
    public double SkipKnockDb { get; set; } = 5;

    /// <summary>Most continuity of the music, 0 to 1, at which it counts as broken off. Default 0.5 (measured on tuning sides).</summary>
    public double SkipContinuity { get; set; } = 0.5;

    /// <summary>The same height, dB, 1 to 30, for a knock so strong that less proof of a break is asked for. Default 8 (measured on tuning sides).</summary>
    public double SkipKnockAloneDb { get; set; } = 8;

    /// <summary>Most continuity of the music, 0 to 1, with such a knock. Default 0.75 (measured on tuning sides).</summary>
    public double SkipContinuityOfLoudKnock { get; set; } = 0.75;
}
