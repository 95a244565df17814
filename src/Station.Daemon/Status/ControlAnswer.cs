using Station.Daemon.Status.Api;

namespace Station.Daemon.Status;

/// <summary>What the running service said to a decision.</summary>
/// <param name="Ok">It was carried out.</param>
/// <param name="Text">One line for the person who decided.</param>
/// <param name="Job">The job as it is now; null when nothing was decided.</param>
internal sealed record ControlAnswer(bool Ok, string Text, JobView? Job = null)
{
    /// <summary>What was sent is wrong, not the state of the station.</summary>
    public bool IsInputAtFault { get; init; }
}
