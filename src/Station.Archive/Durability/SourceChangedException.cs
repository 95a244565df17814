namespace Station.Archive.Durability;

/// <summary>A file is not the one it was taken for, or changed while it was copied. The copy was discarded, the file left alone.</summary>
public sealed class SourceChangedException(string path, string expected, string found)
    : IOException($"{PathText.Printable(path)}: expected {expected}, found {found}")
{
    /// <summary>The source file.</summary>
    public string Path { get; } = path;
}
