namespace Station.Daemon.Jobs;

/// <summary>Which state of a job may follow which. Every state change in the store is checked against this table.</summary>
internal static class JobTransitions
{
    /// <summary>True when a job may go from <paramref name="from"/> to <paramref name="to"/>.</summary>
    public static bool Allows(JobState from, JobState to) => (from, to) switch
    {
        (JobState.Queued, JobState.Running) => true,                  // claimed
        (JobState.Queued, JobState.Failed) => true,                   // crashed too often: never claimed again
        (JobState.Running, JobState.Queued) => true,                  // retry later, or the lease lapsed
        (JobState.Running, JobState.Held or JobState.Done or JobState.Duplicate or JobState.Refused or JobState.Failed) => true,
        (JobState.Held, JobState.Queued) => true,                     // accepted, or tried again
        (JobState.Held, JobState.Discarded or JobState.Superseded) => true,
        (JobState.Failed, JobState.Queued or JobState.Discarded) => true,
        (JobState.Superseded, JobState.Queued or JobState.Discarded) => true,   // the operator prefers the older take after all
        (JobState.Done, JobState.Queued) => true,                     // filed under another name, or in force again since a later take is
        _ => false,
    };

    /// <summary>The states a report calls finished: nothing more happens without a person or another capture.</summary>
    public static bool IsTerminal(JobState state) => state is not (JobState.Queued or JobState.Running or JobState.Held);
}
