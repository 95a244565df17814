using System.Collections.Immutable;

namespace Station.Audio.Reading;

/// <summary>The content of a Broadcast Wave file's <c>bext</c> chunk.</summary>
/// <remarks>
/// Layout and meaning: EBU Tech 3285 version 2. Text is ASCII there; UTF-8 is taken as such, any other byte is written <c>\xNN</c>, and
/// control and direction-changing characters are escaped as in messages. Empty text and values marked as unused are null.
/// </remarks>
public sealed record BroadcastExtension
{
    /// <summary>Version of the layout: 0, 1 or 2; later ones are read as 2.</summary>
    public required int Version { get; init; }

    /// <summary>Free description, at most 256 bytes in the file.</summary>
    public string? Description { get; init; }

    /// <summary>Who made the file, at most 32 bytes.</summary>
    public string? Originator { get; init; }

    /// <summary>The maker's own reference, at most 32 bytes.</summary>
    public string? OriginatorReference { get; init; }

    /// <summary>As written, yyyy-mm-dd by the standard.</summary>
    public string? OriginationDate { get; init; }

    /// <summary>As written, hh:mm:ss by the standard.</summary>
    public string? OriginationTime { get; init; }

    /// <summary>Samples from midnight to the first one; null when the chunk ends before it.</summary>
    public ulong? TimeReferenceSamples { get; init; }

    /// <summary>The SMPTE UMID in lower-case hexadecimal, 64 digits (basic) or 128 (extended). Version 1 on.</summary>
    public string? UmidHex { get; init; }

    /// <summary>Integrated loudness, LUFS. Version 2 on, as the four below.</summary>
    public double? LoudnessLufs { get; init; }

    /// <summary>Loudness range, LU.</summary>
    public double? LoudnessRangeLu { get; init; }

    /// <summary>Largest true peak, dBTP.</summary>
    public double? MaxTruePeakDbtp { get; init; }

    /// <summary>Largest momentary loudness, LUFS.</summary>
    public double? MaxMomentaryLufs { get; init; }

    /// <summary>Largest short-term loudness, LUFS.</summary>
    public double? MaxShortTermLufs { get; init; }

    /// <summary>Lines of the coding history; <see cref="BroadcastChunk.MaxHistoryBytes"/> bytes of it at most.</summary>
    public ImmutableArray<string> CodingHistory { get; init; } = [];
}
