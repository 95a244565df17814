using Station.Archive.Durability;

namespace Station.Archive.Bags;

/// <summary>One file to be put into a bag, from a file on disk or from memory.</summary>
/// <param name="Name">Relative name, parts separated by '/': below data/ for payload, below the bag for tag files.</param>
/// <param name="SourcePath">Regular file to take the content from; null when <paramref name="Content"/> is the content.</param>
/// <param name="Content">The content when there is no source file.</param>
/// <param name="KnownSha256">Digest the content must have, 64 lower-case hexadecimal digits; null when not known. A copy that differs is refused; a link is
/// believed and found out by the check that must follow.</param>
public sealed record BagFile(string Name, string? SourcePath, ReadOnlyMemory<byte> Content, string? KnownSha256)
{
    /// <summary>
    /// The bag may share the source file's bytes by a hard link instead of a copy (default: copy). Only for files this service wrote and nobody writes any more: a
    /// program that still has the source open would write into the bag.
    /// </summary>
    public bool MayLink { get; init; }

    /// <summary>Where in the source file the content begins; null when all of it is the content.</summary>
    public long? SourceOffset { get; private init; }

    /// <summary>Length of the stretch from <see cref="SourceOffset"/> on.</summary>
    public long SourceBytes { get; private init; }

    /// <summary>A stretch of a file on disk, copied in blocks: it may be larger than memory.</summary>
    /// <exception cref="ArgumentOutOfRangeException">A negative offset or length.</exception>
    public static BagFile FromFileRange(string name, string sourcePath, long offset, long bytes)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(offset);
        ArgumentOutOfRangeException.ThrowIfNegative(bytes);
        return new(name, sourcePath, default, null) { SourceOffset = offset, SourceBytes = bytes };
    }

    /// <summary>A file on disk.</summary>
    public static BagFile FromFile(string name, string sourcePath, string? knownSha256 = null, bool mayLink = false) =>
        new(name, sourcePath, default, knownSha256) { MayLink = mayLink };

    /// <summary>Content in memory.</summary>
    public static BagFile FromBytes(string name, ReadOnlyMemory<byte> content) => new(name, null, content, null);

    /// <summary>How messages call it.</summary>
    internal string PrintableName => PathText.Printable(Name);
}
