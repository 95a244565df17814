namespace Station.Daemon.Jobs;

internal enum StageOutcomeKind
{
    Done,

    /// <summary>Did not work this time; tried again later.</summary>
    Retry,

    Failed,
}

/// <summary>The durable outcome of one stage of one job.</summary>
/// <param name="Result">What the stage hands to the next ones, as JSON; null unless done.</param>
internal sealed record StageRecord(
    string Name, StageOutcomeKind Outcome, int Attempt, DateTimeOffset StartedAt, DateTimeOffset EndedAt, string? Result, string? Reason);
