namespace Station.Archive.Durability;

/// <summary>Permission bits.</summary>
internal static class FileModes
{
    /// <summary>0644, less the umask of the process.</summary>
    public const int NewFile = 0x1A4;

    private const int AnyWrite = 0x92;    // 0222
    private const int OwnerAll = 0x1C0;   // 0700

    /// <summary>Takes the write bits away and adds none: 0644 becomes 0444, 0755 becomes 0555, and a strict umask stays respected.</summary>
    public static int WithoutWriting(int mode) => mode & ~AnyWrite;

    /// <summary>Lets the owner list, enter and change a folder.</summary>
    public static int WithOwnerAccess(int mode) => mode | OwnerAll;
}
