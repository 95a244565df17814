using System.Collections.Immutable;
using Station.Audio.Findings;

namespace Station.Daemon.Jobs;

/// <summary>A job with its capture, the takes it holds and every stage outcome so far: all that a worker needs to go on.</summary>
internal sealed record Job
{
    public required JobId Id { get; init; }

    public required JobState State { get; init; }

    public required Capture Capture { get; init; }

    /// <summary>Every take with a span of this capture, by side and number; a part may be in several takes of its side.</summary>
    public ImmutableArray<Take> Takes { get; init; } = [];

    /// <summary>The parts of the take this capture is a part of; null for a capture that is a take by itself, or several.</summary>
    public TakeParts? Parts { get; init; }

    /// <summary>Where its bag lies, by place; empty before it is archived.</summary>
    public ImmutableArray<BagCopy> Copies { get; init; } = [];

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

    /// <summary>The takes this job decides about, one of each side: the newest that came to something.</summary>
    public IEnumerable<Take> CurrentTakes => Takes.GroupBy(t => t.Side, StringComparer.Ordinal).Select(Take.Current);

    /// <summary>The take of one side this job decides about.</summary>
    /// <exception cref="InvalidOperationException">The capture holds nothing of that side.</exception>
    public Take TakeOf(string side) => Take.Current(Takes.Where(t => t.Side == side));

    /// <summary>What people call the captures this job's takes are made of: its own, or those of all parts in order.</summary>
    public ImmutableArray<string> Labels => Parts is null ? [Capture.Label] : [.. Parts.Parts.Select(p => p.Capture.Label)];

    /// <summary>True unless another part's job makes the listening copies and settles the take.</summary>
    public bool Leads => Parts is null || Parts.Lead.JobId == Id;

    /// <summary>True when the recorded division was made from just the parts that are known and read now.</summary>
    public bool DivisionIsCurrent =>
        Parts is null || this.Divided() is { Joined: { } joined } && joined.Parts.Select(p => p.Capture).SequenceEqual(Parts.Inspected.Select(p => p.Capture.Id.Value));

    /// <summary>True when the stage ended well and its outcome still counts.</summary>
    public bool IsDone(string stage) => Stages.TryGetValue(stage, out StageRecord? record) && record.Outcome == StageOutcomeKind.Done;
}
