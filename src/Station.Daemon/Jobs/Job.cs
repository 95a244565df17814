using System.Collections.Immutable;
using Station.Audio.Findings;

namespace Station.Daemon.Jobs;

/// <summary>A job with its capture, the takes it holds and every stage outcome so far: all that a worker needs to go on.</summary>
internal sealed record Job
{
    public required JobId Id { get; init; }

    public required JobState State { get; init; }

    public required Capture Capture { get; init; }

    public ImmutableArray<Take> Takes { get; init; } = [];

    /// <summary>Stage outcomes by name; a later run of a stage replaces the earlier.</summary>
    public ImmutableSortedDictionary<string, StageRecord> Stages { get; init; } = ImmutableSortedDictionary<string, StageRecord>.Empty;

    /// <summary>Times claimed so far, this one included.</summary>
    public int Attempt { get; init; }

    /// <summary>Failed tries since the last stage that succeeded.</summary>
    public int Failures { get; init; }

    /// <summary>Claims that ended with the process since the last stage that succeeded.</summary>
    public int Crashes { get; init; }

    public string? Owner { get; init; }

    public DateTimeOffset? NotBefore { get; init; }

    public Verdict? Verdict { get; init; }

    public string? Reason { get; init; }

    public DateTimeOffset? AcceptedAt { get; init; }

    /// <summary>Why a person accepted a held take; kept and offered to later takes.</summary>
    public string? AcceptedWhy { get; init; }

    public PendingMove? PendingMove { get; init; }

    public required DateTimeOffset CreatedAt { get; init; }

    public DateTimeOffset? FinishedAt { get; init; }

    public bool IsAccepted => AcceptedAt is not null;

    /// <summary>True when the stage ended well and its outcome still counts.</summary>
    public bool IsDone(string stage) => Stages.TryGetValue(stage, out StageRecord? record) && record.Outcome == StageOutcomeKind.Done;
}
