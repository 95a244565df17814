using System.Text.Json.Nodes;

namespace Station.Daemon.Jobs;

/// <summary>News for a person, put into the outbox in the same transaction that makes it true.</summary>
/// <param name="Type">Dotted, as the webhook's <c>type</c>: <c>take.retake</c>, <c>take.review</c>, <c>capture.refused</c>, <c>job.set_aside</c>, <c>job.waiting</c>, <c>inbox.missing</c>, <c>inbox.back</c>.</param>
/// <param name="Subject">One line for a person.</param>
/// <param name="Data">The event's data.</param>
internal sealed record AlertDraft(string Type, string Subject, JsonObject Data);

/// <summary>An alert in the outbox or delivered.</summary>
internal sealed record Alert
{
    /// <summary>The same on every try, so that receivers can drop repeats.</summary>
    public required string Id { get; init; }

    public required string Type { get; init; }

    public JobId? JobId { get; init; }

    public required string Subject { get; init; }

    /// <summary>JSON object.</summary>
    public required string Body { get; init; }

    public required DateTimeOffset CreatedAt { get; init; }

    public required AlertState State { get; init; }

    public int Attempt { get; init; }

    public DateTimeOffset? NotBefore { get; init; }

    public DateTimeOffset? DeliveredAt { get; init; }

    public string? LastError { get; init; }
}

internal enum AlertState
{
    Pending,
    Delivered,

    /// <summary>Every try failed; shown on the page.</summary>
    Abandoned,
}
