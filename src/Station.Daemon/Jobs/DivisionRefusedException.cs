using System.Collections.Immutable;
using Station.Daemon.Records;

namespace Station.Daemon.Jobs;

/// <summary>Why cuts can't be laid on a side.</summary>
internal enum DivisionRefusal
{
    /// <summary>The record or the side is not known, or has no take.</summary>
    NoTake,

    /// <summary>The take is of a kind, or in a state, that cuts can't be fixed for.</summary>
    NotThisTake,

    /// <summary>What was sent is no cue sheet, or doesn't fit the capture.</summary>
    Input,
}

/// <summary>Cuts can't be laid on a side; nothing was changed.</summary>
/// <param name="message">One line.</param>
internal sealed class DivisionRefusedException(DivisionRefusal refusal, string message) : InvalidOperationException(message)
{
    public DivisionRefusedException(CueResult refused)
        : this(DivisionRefusal.Input, Summary(refused)) => Errors = refused.Errors;

    public DivisionRefusal Refusal { get; } = refusal;

    /// <summary>What is wrong in the cue sheet, by place; empty when it is none of it.</summary>
    public ImmutableArray<SheetError> Errors { get; } = [];

    private static string Summary(CueResult refused)
    {
        string first = refused.Lines().First();
        return refused.Errors.Length == 1 ? first : FormattableString.Invariant($"{first} ({refused.Errors.Length - 1} more)");
    }
}
