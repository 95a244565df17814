namespace Station.Audio.Findings;

/// <summary>What becomes of a take.</summary>
public enum Verdict
{
    /// <summary>Good: archived and published.</summary>
    Accept,

    /// <summary>Archived, then waits for a person.</summary>
    Review,

    /// <summary>Play the side again.</summary>
    Retake,
}
