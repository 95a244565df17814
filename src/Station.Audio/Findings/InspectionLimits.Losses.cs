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
    /// Evidence that frames are missing between two frames, by the phases of the notes and by the wave's shape, above which a place is clear, 4 to 40. Default 9 (measured
    /// on 120 clean tuning sides: no tick above 6.1; of joints cut into sides half are above).
    /// </summary>
    public double JointScore { get; set; } = 9;

    /// <summary>The same above which a place is likely, 3 to 40. Default 6 (measured: one tick of 120 clean tuning sides; of joints cut into sides six in ten).</summary>
    public double LikelyJointScore { get; set; } = 6;

    /// <summary>Fewest likely places that are told of where none is clear, for a person to hear; 2 to 100. Default 2 (own choice: one alone may be a tick).</summary>
    public int FewestJoints { get; set; } = 2;
}
