namespace Station.Daemon.Jobs;

/// <summary>The job is no longer this worker's: its lease lapsed and somebody else has it, or it was changed. The work is thrown away.</summary>
internal sealed class LostLeaseException(JobId id) : Exception($"Job {id} is no longer held by this worker.")
{
}
