namespace Station.Daemon.Jobs;

/// <summary>Where a job stands. <see cref="JobTransitions"/> is the one place that says which may follow which.</summary>
internal enum JobState
{
    /// <summary>Waits for a worker (possibly until a time).</summary>
    Queued,

    /// <summary>A worker holds a lease on it.</summary>
    Running,

    /// <summary>Waits for the operator: verdict retake, or review.</summary>
    Held,

    /// <summary>Archived and published.</summary>
    Done,

    /// <summary>The same bytes are in the archive already under this name; nothing was added.</summary>
    Duplicate,

    /// <summary>The file can't be taken; it lies in refused/ with the reason.</summary>
    Refused,

    /// <summary>Set aside after too many tries; capture, report and reason lie in held/.</summary>
    Failed,

    /// <summary>The operator threw the take away.</summary>
    Discarded,

    /// <summary>A later take of the same side was accepted while this one waited.</summary>
    Superseded,
}
