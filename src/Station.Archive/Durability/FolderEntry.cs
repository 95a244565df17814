using System.Runtime.InteropServices;

namespace Station.Archive.Durability;

/// <summary>A name in an open folder, as the bytes the file system keeps; valid while the visitor runs.</summary>
public readonly ref struct FolderEntry
{
    private readonly ReadOnlySpan<byte> _ended;

    internal FolderEntry(ReadOnlySpan<byte> ended) => _ended = ended;

    /// <summary>1 to 255 bytes, neither <c>.</c> nor <c>..</c>, without <c>/</c> and NUL; not necessarily UTF-8.</summary>
    public ReadOnlySpan<byte> Name => _ended[..^1];

    /// <summary>First byte of the name, which a NUL ends.</summary>
    internal ref readonly byte First => ref MemoryMarshal.GetReference(_ended);
}
