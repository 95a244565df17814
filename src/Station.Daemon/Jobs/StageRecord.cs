namespace Station.Daemon.Jobs;

internal enum StageOutcomeKind
{
    Done,

    /// <summary>Did not work this time; tried again later.</summary>
    Retry,

    Failed,

    /// <summary>The same bytes are kept already; the dropped file is released and the job ends.</summary>
    Duplicate,
}

/// <summary>The durable outcome of one stage of one job.</summary>
/// <param name="Result">What the stage hands to the next ones, as JSON; for a duplicate, where its bytes are kept; else null.</param>
internal sealed record StageRecord(
    string Name, StageOutcomeKind Outcome, int Attempt, DateTimeOffset StartedAt, DateTimeOffset EndedAt, string? Result, string? Reason);
