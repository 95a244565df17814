namespace Station.Archive.Durability;

/// <summary>A folder was expected and something else was found. It was not followed.</summary>
public sealed class NotAFolderException(string path, FileKind found)
    : IOException($"{PathText.Printable(path)}: expected a folder, found {(found == FileKind.SymbolicLink ? "a symbolic link" : "a file")}")
{
    /// <summary>What stands under the name.</summary>
    public FileKind Found { get; } = found;
}
