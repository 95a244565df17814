using System.Collections.Immutable;

namespace Station.Archive.Originals;

/// <summary>How to get the dropped file back from a bag, bit for bit. Stored as data/original.json.</summary>
public sealed record RestoreRecipe
{
    /// <summary>The version this library writes and reads.</summary>
    public const int CurrentVersion = 1;

    /// <summary>File name below data/.</summary>
    public const string FileNameInBag = "original.json";

    /// <summary>Version of the format.</summary>
    public required int Version { get; init; }

    /// <summary>Name the file was dropped under. Told to people; never used as a path.</summary>
    public required string FileName { get; init; }

    /// <summary>Length of the dropped file.</summary>
    public required long Bytes { get; init; }

    /// <summary>SHA-256 of the dropped file, 64 lower-case hexadecimal digits.</summary>
    public required string Sha256 { get; init; }

    /// <summary>Its stretches in order; their lengths add up to <see cref="Bytes"/>.</summary>
    public required ImmutableArray<RestorePart> Parts { get; init; }
}
