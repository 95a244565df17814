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
    /// Evidence that frames are missing between two frames, by the phases of the notes and by the wave's shape, below which a place says nothing, 1 to 40. Default 2 (measured
    /// on tuning sides: seven in ten of cut joints are above, and one tick in a quarter of an hour). Where a side has many such ticks below, more is asked.
    /// </summary>
    public double JointScore { get; set; } = 2;

    /// <summary>
    /// By how much the best three places of a side together must be above <see cref="JointScore"/> to be told of, 0.5 to 100, where there are two at least. Default 3 (measured: no clean tuning side
    /// of 220 has two places; of those cut three times nine in ten pass).
    /// </summary>
    public double JointEvidence { get; set; } = 3;

    /// <summary>
    /// By how much a single place of a side must be above <see cref="JointScore"/> to be told of, 0.5 to 100. Default 20 (measured: of 450 clean tuning sides of four minutes two have one
    /// at 13 and 16, none of those cut three or eight times stands or falls by it; of ten sides cut once, one passes).
    /// </summary>
    public double JointLoneEvidence { get; set; } = 20;
}
