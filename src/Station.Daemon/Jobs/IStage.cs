namespace Station.Daemon.Jobs;

/// <summary>One stage of the way of a capture.</summary>
internal interface IStage
{
    /// <summary>One of <see cref="StageNames"/>.</summary>
    string Name { get; }

    /// <summary>
    /// Idempotent: a second run on the same inputs leaves the same files and returns the same result. Runs on a worker's thread; may
    /// block on disks and child processes; stops soon after <paramref name="cancellationToken"/> fires, leaving only files that a
    /// later run replaces.
    /// </summary>
    /// <exception cref="IOException">A disk or share failed; judged by <see cref="FailurePolicy"/>.</exception>
    Task<StageOutcome> RunAsync(Job job, CancellationToken cancellationToken);

    /// <summary>
    /// False when files that a recorded result relies on are gone, so that the stage must run again: an accepted take, for example,
    /// whose master was not kept while it waited.
    /// </summary>
    bool StillHolds(Job job);
}
