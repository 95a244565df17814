namespace Station.Archive.Durability;

/// <summary>A file was expected and something else was found: a link, folder, pipe, socket or device. It was not read.</summary>
public sealed class NotRegularFileException(string path, FileKind found)
    : IOException($"{PathText.Printable(path)}: expected a regular file, found {Words(found)}")
{
    /// <summary>The name that was to be opened.</summary>
    public string Path { get; } = path;

    /// <summary>What stands under it.</summary>
    public FileKind Found { get; } = found;

    private static string Words(FileKind kind) => kind switch
    {
        FileKind.Regular => "a regular file",
        FileKind.Folder => "a folder",
        FileKind.SymbolicLink => "a symbolic link",
        FileKind.Fifo => "a named pipe",
        FileKind.Socket => "a socket",
        FileKind.CharacterDevice => "a character device",
        FileKind.BlockDevice => "a block device",
        _ => "an unknown kind of file",
    };
}
