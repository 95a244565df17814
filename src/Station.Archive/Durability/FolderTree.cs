using Microsoft.Win32.SafeHandles;

namespace Station.Archive.Durability;

/// <summary>Whole folders: removing, taking write permission away. Links are handled as links, never followed.</summary>
internal static class FolderTree
{
    /// <summary>Removes everything below and the folder itself. The caller syncs the parent.</summary>
    public static void Remove(string folder)
    {
        AllowChanges(folder);
        foreach (string entry in Directory.EnumerateFileSystemEntries(folder))
        {
            if (PosixStat.TryLook(entry) is { Kind: FileKind.Folder })
            {
                Remove(entry);
                continue;
            }

            int errno = Posix.TryUnlink(entry);
            if (errno is not (0 or Errno.NoEntry))
            {
                throw new PosixException(errno, "unlink", entry);
            }
        }

        Posix.RemoveFolder(folder);
    }

    /// <summary>Takes the write bits of everything in a folder and of the folder itself away, deepest first.</summary>
    public static void MakeReadOnly(string folder)
    {
        foreach (string entry in Directory.EnumerateFileSystemEntries(folder))
        {
            switch (PosixStat.TryLook(entry))
            {
                case { Kind: FileKind.Folder }:
                    MakeReadOnly(entry);
                    break;
                case { Kind: FileKind.Regular } facts:
                    MakeReadOnly(entry, facts);
                    break;
            }
        }

        MakeReadOnly(folder, PosixStat.Look(folder));
    }

    /// <summary>Takes the write bits of a file or folder away, when it has any.</summary>
    public static void MakeReadOnly(string path, FileFacts facts)
    {
        int mode = FileModes.WithoutWriting(facts.Mode);
        if (mode == facts.Mode)
        {
            return;
        }

        using SafeFileHandle file = Posix.Open(path, Posix.ReadOnly | Posix.NoFollow | Posix.NonBlock);
        Posix.ChangeMode(file, mode, path);
    }

    /// <summary>Published folders are read-only even for their owner, so entries can be removed only after this.</summary>
    private static void AllowChanges(string folder)
    {
        int mode = PosixStat.Look(folder).Mode;
        if (FileModes.WithOwnerAccess(mode) != mode)
        {
            Posix.ChangeMode(folder, FileModes.WithOwnerAccess(mode));
        }
    }
}
