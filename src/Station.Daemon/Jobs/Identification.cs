namespace Station.Daemon.Jobs;

/// <summary>That a person filed a capture under another name. Stored in the transaction that changed takes and job.</summary>
/// <param name="FromLabel">The capture's label until then.</param>
/// <param name="FromTakes">The takes it was, such as <c>A-1</c>.</param>
/// <param name="ToTakes">The takes it became.</param>
/// <param name="FinishedAt">When nothing was left under the old name; null before.</param>
internal sealed record Identification(
    string Id, JobId JobId, string FromLabel, FiledAs From, string FromTakes, FiledAs To, string ToTakes, DateTimeOffset DecidedAt, DateTimeOffset? FinishedAt);
