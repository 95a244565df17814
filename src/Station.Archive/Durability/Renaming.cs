namespace Station.Archive.Durability;

/// <summary>Giving a file or folder its new name without ever replacing what has that name, on any file system. No syncing here, but for exchanges.</summary>
internal static class Renaming
{
    /// <exception cref="PosixException">EEXIST when the name is taken, EXDEV across file systems, others as they come.</exception>
    public static void WithoutReplacing(string from, string to)
    {
        int errno = Posix.TryRenameNoReplace(from, to);
        if (errno is Errno.Invalid or Errno.NotImplemented or Errno.NotSupported)
        {
            WithoutTheFlag(from, to);
        }
        else if (errno != 0)
        {
            throw new PosixException(errno, "renameat2", to, from);
        }
    }

    /// <summary>Exchanges the names of two things in one step, and syncs their folder.</summary>
    /// <returns>False where the file system can't.</returns>
    /// <exception cref="PosixException">It can, and failed.</exception>
    public static bool TryExchange(string one, string other)
    {
        int errno = Posix.TryExchange(one, other);
        if (errno is Errno.Invalid or Errno.NotImplemented or Errno.NotSupported)
        {
            return false;
        }

        if (errno != 0)
        {
            throw new PosixException(errno, "renameat2", other, one);
        }

        DurableFile.SyncFolder(Path.GetDirectoryName(Path.GetFullPath(other))!);
        return true;
    }

    public static void Replacing(string from, string to)
    {
        int errno = Posix.TryRename(from, to);
        if (errno != 0)
        {
            throw new PosixException(errno, "rename", to, from);
        }
    }

    /// <summary>
    /// For file systems that know no flags (network shares): a hard link is refused when the name is taken, and a plain rename of a folder can
    /// only ever replace an empty folder. Where a file system has neither flag nor links, refuse: reserving the name first would show an
    /// empty file under a final name after a kill.
    /// </summary>
    internal static void WithoutTheFlag(string from, string to)
    {
        if (PosixStat.Look(from).Kind == FileKind.Folder)
        {
            RenameFolder(from, to);
            return;
        }

        int errno = Posix.TryLink(from, to);
        if (errno != 0)
        {
            throw new PosixException(errno, "link", to, from);
        }

        errno = Posix.TryUnlink(from);
        if (errno is not (0 or Errno.NoEntry))
        {
            throw new PosixException(errno, "unlink", from);
        }
    }

    private static void RenameFolder(string from, string to)
    {
        if (PosixStat.TryLook(to) is not null)
        {
            throw new PosixException(Errno.Exists, "rename", to, from);
        }

        int errno = Posix.TryRename(from, to);
        if (errno != 0)
        {
            throw new PosixException(errno is Errno.NotEmpty or Errno.NotDirectory ? Errno.Exists : errno, "rename", to, from);
        }
    }
}
