using System.Collections.Immutable;

namespace Station.Daemon.Jobs;

/// <summary>Where a take stands. At most one take of a side is accepted: the current one.</summary>
internal enum TakeState
{
    /// <summary>Being worked on, or waiting for the operator.</summary>
    Pending,

    Accepted,

    /// <summary>Another take of the side was accepted after it, or the operator preferred another.</summary>
    Superseded,

    Discarded,

    /// <summary>Came to nothing: the file was refused or held nothing new. Its number stays used.</summary>
    Void,
}

/// <summary>One reading of a side: an ordered list of spans of captures, usually one span of one capture.</summary>
internal sealed record Take
{
    public required string Id { get; init; }

    public required string RecordId { get; init; }

    /// <summary>One letter.</summary>
    public required string Side { get; init; }

    /// <summary>From 1, never reused.</summary>
    public required int Number { get; init; }

    public required TakeState State { get; init; }

    public DateTimeOffset? DecidedAt { get; init; }

    public string? Reason { get; init; }

    public ImmutableArray<TakeSpan> Spans { get; init; } = [];

    /// <summary>Of the takes of one side that a capture is in, the one its job decides about: the newest that was neither void nor discarded, else the newest.</summary>
    public static Take Current(IEnumerable<Take> takes) =>
        takes.OrderBy(t => t.State is TakeState.Void or TakeState.Discarded).ThenByDescending(t => t.Number).First();
}

/// <param name="Ordinal">The part's number: the order of spans, with holes where a part is missing.</param>
/// <param name="EndFrame">Exclusive; null means to the end of the capture.</param>
internal sealed record TakeSpan(int Ordinal, CaptureId CaptureId, long StartFrame, long? EndFrame);
