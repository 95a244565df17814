namespace Station.Audio.Findings;

/// <summary>A groove that was closed on purpose, with music in it, at the end of a side.</summary>
/// <param name="StartSeconds">Where the turn that repeats was played first, from the capture's first frame; it can't be told apart from the groove that leads into it.</param>
/// <param name="TurnSeconds">One turn.</param>
public sealed record LockedGroove(double StartSeconds, double TurnSeconds)
{
    /// <summary>The same in a capture that begins at another instant.</summary>
    /// <param name="seconds">How much later it is counted from.</param>
    public LockedGroove After(double seconds) => this with { StartSeconds = StartSeconds - seconds };
}
