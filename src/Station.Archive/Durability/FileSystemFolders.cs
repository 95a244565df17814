namespace Station.Archive.Durability;

/// <summary>Folders that belong to the file system and not to anybody who uses it.</summary>
public static class FileSystemFolders
{
    /// <summary>In the root of every ext2, ext3 and ext4 file system, readable by root alone: mklost+found(8).</summary>
    private const string LostAndFound = "lost+found";

    /// <summary>Is a folder of this name the file system's own? It is never opened and never removed.</summary>
    /// <param name="path">A name or a path.</param>
    public static bool IsOwn(string path) => string.Equals(Path.GetFileName(Path.TrimEndingDirectorySeparator(path)), LostAndFound, StringComparison.Ordinal);
}
