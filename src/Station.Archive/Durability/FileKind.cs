namespace Station.Archive.Durability;

/// <summary>What a name in a folder stands for, links not followed.</summary>
public enum FileKind
{
    /// <summary>Ordinary file.</summary>
    Regular,

    /// <summary>Folder.</summary>
    Folder,

    /// <summary>Symbolic link, whatever it points at.</summary>
    SymbolicLink,

    /// <summary>Named pipe.</summary>
    Fifo,

    /// <summary>Socket.</summary>
    Socket,

    /// <summary>Character device.</summary>
    CharacterDevice,

    /// <summary>Block device.</summary>
    BlockDevice,

    /// <summary>A kind this version does not know.</summary>
    Other,
}
