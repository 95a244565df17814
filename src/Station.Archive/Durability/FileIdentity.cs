namespace Station.Archive.Durability;

/// <summary>Which file this is and in which version: equal before and after a read means nobody exchanged or wrote it in between.</summary>
/// <param name="Device">Device number, major in the upper 32 bits.</param>
/// <param name="Inode">Number of the file on its device.</param>
/// <param name="Bytes">Length.</param>
/// <param name="ModifiedNanoseconds">Time of the last change of content, nanoseconds since 1970-01-01T00:00:00Z (may be negative).</param>
public readonly record struct FileIdentity(ulong Device, ulong Inode, long Bytes, long ModifiedNanoseconds)
{
    /// <summary>Same file, whatever its content is by now.</summary>
    public bool IsSameFile(FileIdentity other) => Device == other.Device && Inode == other.Inode;
}
