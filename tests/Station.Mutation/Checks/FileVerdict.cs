using Station.Audio.Reading;

namespace Station.Mutation.Checks;

/// <summary>What was seen while one file was read.</summary>
public sealed record FileVerdict
{
    /// <summary>How it ended.</summary>
    public required Outcome Outcome { get; init; }

    /// <summary>Every promise that was broken, one line each; empty when all is well.</summary>
    public required IReadOnlyList<string> Faults { get; init; }

    /// <summary>What the container said; null when it was refused by its header.</summary>
    public CaptureFormat? Format { get; init; }

    /// <summary>SHA-256 of the words handed on, hexadecimal; null unless the end was reached.</summary>
    public string? WordsSha256 { get; init; }

    /// <summary>True when the end was reached and nothing that was assumed puts the sound in doubt.</summary>
    public bool SoundIsSure { get; init; }

    /// <summary>The refusal or the repairs, for the log.</summary>
    public string Remark { get; init; } = "";
}
