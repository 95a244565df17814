namespace Station.Audio.Meters;

/// <summary>What told the turn, the surest first.</summary>
public enum RevolutionSource
{
    /// <summary>The closed groove after the music, whose surface and knock come back each turn.</summary>
    RunOut,

    /// <summary>A scratch that ticks once per turn.</summary>
    Scratch,

    /// <summary>The pitch of the music, swaying once per turn on a disc that is off centre.</summary>
    Pitch,
}
