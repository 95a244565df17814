using System.Collections.Immutable;

namespace Station.Audio.Findings;

/// <summary>Which channel a finding is about.</summary>
public enum FindingChannel
{
    /// <summary>The left one.</summary>
    Left,

    /// <summary>The right one.</summary>
    Right,

    /// <summary>Both.</summary>
    Both,
}

/// <summary>A stretch of the capture, seconds from its first frame.</summary>
public readonly record struct SecondsSpan(double StartSeconds, double EndSeconds);

/// <summary>One fault or remark about a capture.</summary>
public sealed record Finding
{
    /// <summary>One of <see cref="FindingCodes"/>.</summary>
    public required string Code { get; init; }

    /// <summary>How much it matters.</summary>
    public required Severity Severity { get; init; }

    /// <summary>The channel, null where there is only one or it does not apply.</summary>
    public FindingChannel? Channel { get; init; }

    /// <summary>Where, in order of time; empty when it is about the whole capture.</summary>
    public ImmutableArray<SecondsSpan> Spans { get; init; } = [];

    /// <summary>How many, where things were counted.</summary>
    public int? Count { get; init; }

    /// <summary>What was measured, in <see cref="Unit"/>.</summary>
    public double? Measured { get; init; }

    /// <summary>The limit it was held against, in <see cref="Unit"/>.</summary>
    public double? Limit { get; init; }

    /// <summary>Unit of the two, such as <c>dBFS</c>.</summary>
    public string? Unit { get; init; }

    /// <summary>What was found, one sentence.</summary>
    public required string Message { get; init; }

    /// <summary>What to do about it, one line in the operator's words.</summary>
    public required string Advice { get; init; }
}
