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

    /// <summary>
    /// How much likelier than a tick a joint between two frames must be to count as missing samples, natural logarithm, 0 to 8. Default 3.2 (measured on tuning sides: six joints in ten
    /// reach it, and one sharp tick on one clean side in seventeen).
    /// </summary>
    public double JointScore { get; set; } = 3.2;

    /// <summary>Fewest such joints on a side that are told of, for a person to hear; 1 to 100. Default 2 (own choice: one alone may be a tick).</summary>
    public int FewestJoints { get; set; } = 2;

    /// <summary>Fewest such joints on a side that ask for another take; 1 to 100. Default 3 (own choice: no clean tuning side has them).</summary>
    public int RetakeJoints { get; set; } = 3;
}
