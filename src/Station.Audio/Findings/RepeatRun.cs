namespace Station.Audio.Findings;

/// <summary>A stretch that repeats at one lag.</summary>
/// <param name="StartSeconds">Where what is repeated was played first.</param>
/// <param name="EndSeconds">Where the last repetition ends.</param>
/// <param name="TurnSeconds">The lag.</param>
/// <param name="DifferenceDb">What one playing has and the other has not, dB re the noise of the bare groove: the mean of the three bands where it is least.</param>
/// <param name="MusicDb">What is heard, dB re the same noise, in the band where it stands out most.</param>
/// <param name="MusicShare">How much of it the outline takes for music, 0 to 1.</param>
public sealed record RepeatRun(double StartSeconds, double EndSeconds, double TurnSeconds, double DifferenceDb, double MusicDb, double MusicShare)
{
    /// <summary>How often it is played again.</summary>
    public double Turns => (EndSeconds - StartSeconds - TurnSeconds) / TurnSeconds;
}
