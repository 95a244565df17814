namespace Station.Audio.Findings;

/// <content>Samples lost, contacts lost.</content>
public sealed partial record InspectionLimits
{
    /// <summary>
    /// How far one channel must fall at once, while the other plays on, to count as a lost contact, dB, 12 to 60. Default 22 (own experiment on captures
    /// of real sides). Below the groove's own noise <see cref="ContactDropBelowGrooveDb"/> is enough.
    /// </summary>
    public double ContactDropDb { get; set; } = 22;

    /// <summary>
    /// How far below the groove's own noise a channel must fall to count as a lost contact however quiet the music was, dB, 3 to 40. Default 6 (own choice: the noise
    /// of a groove in a few milliseconds stays within 4 dB).
    /// </summary>
    public double ContactDropBelowGrooveDb { get; set; } = 6;
}
