using Microsoft.Win32.SafeHandles;
using Station.Archive.Fixity;

namespace Station.Archive.Durability;

/// <summary>
/// Files that are still there after a power cut once a call has returned. Every step is checked; on any failure the unfinished copy is removed
/// (or stays under a temporary name, see <see cref="IsTemporaryName"/>) and nothing has a final name that did not have it before.
/// </summary>
/// <remarks>After a failed fsync the copy is discarded and never synced again: the kernel may have dropped its data and forgotten the error.</remarks>
public static class DurableFile
{
    /// <summary>Writes a new file: temporary name in the same folder, write, length check, fsync, close, rename without replacement, fsync of the folder.</summary>
    /// <param name="path">Final name; its folder must exist.</param>
    /// <param name="write">Writes the content to a write-only stream that cannot seek. What it throws is passed on and nothing is left.</param>
    /// <exception cref="PosixException">Any step failed; EEXIST when the name is taken (the file there is untouched).</exception>
    public static void WriteNew(string path, Action<Stream> write)
    {
        ArgumentNullException.ThrowIfNull(write);
        path = Full(path);
        string temporary = TemporaryNames.Beside(path);
        WriteTemporary(temporary, FileModes.NewFile, writer => write(writer.Stream));
        Publish(temporary, path);
    }

    /// <summary>Writes a new file with the given content. Steps and errors as <see cref="WriteNew(string, Action{Stream})"/>.</summary>
    public static void WriteNew(string path, ReadOnlySpan<byte> content)
    {
        byte[] bytes = content.ToArray();
        WriteNew(path, stream => stream.Write(bytes));
    }

    /// <summary>
    /// Replaces a file the service owns, or makes it: temporary name, write, fsync, rename over it, fsync of the folder. A reader sees the old
    /// content or the new, never a part. Permission bits of the old file are kept.
    /// </summary>
    /// <exception cref="PosixException">Any step failed; unless it was the last fsync, the old file is untouched.</exception>
    public static void Replace(string path, ReadOnlySpan<byte> content)
    {
        path = Full(path);
        byte[] bytes = content.ToArray();
        string temporary = TemporaryNames.Beside(path);
        FileFacts? old = PosixStat.TryLook(path);
        if (old is { Kind: not FileKind.Regular })
        {
            throw new NotRegularFileException(path, old.Value.Kind);
        }

        WriteTemporary(temporary, FileModes.NewFile, writer =>
        {
            if (old is { } known)
            {
                writer.SetMode(known.Mode);
            }

            writer.Write(bytes);
        });
        OrDiscard(temporary, () => Renaming.Replacing(temporary, path));
        SyncFolder(FolderOf(path));
    }

    /// <summary>fsync of a file, checked. Do not call it again after it failed: write the file anew.</summary>
    /// <exception cref="NotRegularFileException">Not a regular file.</exception>
    /// <exception cref="PosixException">It failed; the content may not be on disk although it can still be read.</exception>
    public static void Sync(string path)
    {
        path = Full(path);
        using SafeFileHandle file = SafeOpen.OpenRegular(path, out _);
        Posix.Fsync(file, path);
    }

    /// <summary>fsync of a folder, checked: makes names made, changed and removed in it lasting.</summary>
    /// <exception cref="PosixException">It failed. A file system that has no such operation (EINVAL: some network shares) is no failure.</exception>
    public static void SyncFolder(string folder)
    {
        folder = Full(folder);
        using SafeFileHandle handle = Posix.Open(folder, Posix.ReadOnly | Posix.Directory);
        try
        {
            Posix.Fsync(handle, folder);
        }
        catch (PosixException e) when (e.Errno == Errno.Invalid)
        {
            // The server keeps names in its own way and offers no call for it; there is nothing more a client can ask.
        }
    }

    /// <summary>Makes a folder and each missing one above it, with an fsync of each parent. Nothing is done when it exists, except that its parent is synced.</summary>
    /// <exception cref="PosixException">Refused; ENOTDIR or EEXIST when a file stands in the way.</exception>
    public static void CreateFolder(string path)
    {
        path = Path.TrimEndingDirectorySeparator(Full(path));
        Stack<string> missing = new();
        string level = path;
        while (PosixStat.TryLook(level) is null && Path.GetDirectoryName(level) is { } parent)
        {
            missing.Push(level);
            level = parent;
        }

        if (missing.Count == 0)
        {
            if (!Directory.Exists(path))
            {
                throw new PosixException(Errno.Exists, "mkdir", path);
            }

            // Made by a run that was killed before it could sync, perhaps.
            if (Path.GetDirectoryName(path) is { } above)
            {
                SyncFolder(above);
            }

            return;
        }

        while (missing.TryPop(out string? folder))
        {
            int errno = Posix.TryMakeFolder(folder);
            if (errno != 0 && !(errno == Errno.Exists && Directory.Exists(folder)))
            {
                throw new PosixException(errno, "mkdir", folder);
            }

            SyncFolder(FolderOf(folder));
        }
    }

    /// <summary>Renames a file or folder, refusing when the new name is taken, then syncs both parent folders.</summary>
    /// <exception cref="PosixException">EEXIST: the new name is taken, nothing happened. EXDEV: on another file system, nothing happened.</exception>
    public static void RenameNoReplace(string from, string to)
    {
        from = Full(from);
        to = Full(to);
        Renaming.WithoutReplacing(from, to);
        SyncBothFolders(from, to);
    }

    /// <summary>Renames a file over another of the service's own, then syncs both parent folders.</summary>
    /// <exception cref="PosixException">Refused; nothing happened unless it was an fsync that failed.</exception>
    public static void RenameReplace(string from, string to)
    {
        from = Full(from);
        to = Full(to);
        Renaming.Replacing(from, to);
        SyncBothFolders(from, to);
    }

    /// <summary>
    /// Moves a regular file, never replacing anything. Across file systems: copy to a temporary name in the target folder, fsync, read the copy back
    /// from disk, compare by SHA-256, rename, fsync, and only then unlink the source. A move that was killed halfway is completed by calling it again.
    /// </summary>
    /// <exception cref="PosixException">EEXIST: another file has the name. Others: the source is untouched, or the target is complete.</exception>
    /// <exception cref="SourceChangedException">The source changed while copied, or the copy read back differs; the source is untouched.</exception>
    public static MoveOutcome Move(string from, string to)
    {
        from = Full(from);
        to = Full(to);
        try
        {
            Renaming.WithoutReplacing(from, to);
        }
        catch (PosixException e) when (e.Errno == Errno.CrossDevice)
        {
            MoveAcross(from, to);
            return MoveOutcome.Copied;
        }

        SyncBothFolders(from, to);
        return MoveOutcome.Renamed;
    }

    /// <summary>The part of <see cref="Move"/> that works across file systems.</summary>
    internal static void MoveAcross(string from, string to)
    {
        string? present = PosixStat.TryLook(to) is null ? null : FileDigest.Sha256(to);
        if (present is null)
        {
            CopyNew(from, to, keepTime: true, readBack: true);
        }
        else if (present == FileDigest.Sha256(from))
        {
            // An earlier move died after the rename; its copy was read back then, but make sure of the name.
            SyncFolder(FolderOf(to));
        }
        else
        {
            throw new PosixException(Errno.Exists, "move", to, from);
        }

        Delete(from);
    }

    /// <summary>
    /// Gives an existing regular file a second name (hard link), or where links are not possible makes a synced copy. The content is synced either way.
    /// A link shares its bytes: use it only for files nobody writes any more.
    /// </summary>
    /// <exception cref="PosixException">EEXIST: the name is taken. Others as they come; nothing is left.</exception>
    public static void LinkOrCopy(string from, string to)
    {
        from = Full(from);
        to = Full(to);
        if (TryLink(from, to))
        {
            SyncFolder(FolderOf(to));
        }
        else
        {
            CopyNew(from, to, keepTime: false, readBack: false);
        }
    }

    /// <summary>Makes a new file with the content and time of another one: synced, read back and compared before it gets its name.</summary>
    /// <exception cref="PosixException">EEXIST: the name is taken. Others as they come; nothing is left.</exception>
    /// <exception cref="SourceChangedException">It changed while copied, or the copy read back differs.</exception>
    public static void Copy(string from, string to) => CopyNew(Full(from), Full(to), keepTime: true, readBack: true);

    /// <summary>
    /// Gives a file that has other names (hard links) bytes of its own: copied, synced, read back, and put in its place. Whoever holds another name
    /// changes another file from then on. Nothing to do for a file with one name.
    /// </summary>
    /// <returns>True when a copy was made.</returns>
    /// <exception cref="SourceChangedException">It changed while copied; the file is as it was.</exception>
    /// <exception cref="PosixException">A step failed; the file is as it was, or the copy is in its place.</exception>
    public static bool Detach(string path)
    {
        path = Full(path);
        if (PosixStat.Look(path).LinkCount < 2)
        {
            return false;
        }

        string own = TemporaryNames.Beside(path);
        CopyNew(path, own, keepTime: true, readBack: true);
        OrDiscard(own, () => Renaming.Replacing(own, path));
        SyncFolder(FolderOf(path));
        return true;
    }

    /// <summary>Removes a file and syncs its folder. Nothing to do when it is gone already.</summary>
    /// <exception cref="PosixException">Refused; EISDIR for a folder.</exception>
    public static void Delete(string path)
    {
        path = Full(path);
        int errno = Posix.TryUnlink(path);
        if (errno is Errno.NotDirectory || (errno is Errno.NoEntry && !Directory.Exists(FolderOf(path))))
        {
            return;
        }

        if (errno is not (0 or Errno.NoEntry))
        {
            throw new PosixException(errno, "unlink", path);
        }

        SyncFolder(FolderOf(path));
    }

    /// <summary>
    /// Removes a folder with all it holds. It first gets a temporary name, so that a half-removed folder never bears its final one.
    /// Nothing to do when it is gone already.
    /// </summary>
    /// <exception cref="PosixException">Refused; the rest bears a temporary name.</exception>
    public static void DeleteFolder(string path)
    {
        path = Path.TrimEndingDirectorySeparator(Full(path));
        FileFacts? facts = PosixStat.TryLook(path);
        string parent = FolderOf(path);
        if (facts is null)
        {
            if (Directory.Exists(parent))
            {
                SyncFolder(parent);
            }

            return;
        }

        if (facts.Value.Kind != FileKind.Folder)
        {
            throw new PosixException(Errno.NotDirectory, "rmdir", path);
        }

        string doomed = path;
        if (!IsTemporaryName(Path.GetFileName(path)))
        {
            doomed = TemporaryNames.Beside(path);
            RenameNoReplace(path, doomed);
        }

        FolderTree.Remove(doomed);
        SyncFolder(parent);
    }

    /// <summary>Is this one of our names of unfinished things? Whatever bears one when the service starts was left by a kill and may go.</summary>
    public static bool IsTemporaryName(string fileName)
    {
        ArgumentNullException.ThrowIfNull(fileName);
        return TemporaryNames.IsOne(fileName);
    }

    /// <summary>The temporary name that always belongs to this final name, in the same folder: for staging something that a restart shall find.</summary>
    public static string StagingPathFor(string finalPath) => TemporaryNames.For(Path.TrimEndingDirectorySeparator(Full(finalPath)));

    /// <summary>
    /// Asks the kernel to forget its copy of a file's content, so that the next read comes from the disk. Advice only: pages not written yet, or in use
    /// by others, stay; some file systems do nothing.
    /// </summary>
    /// <exception cref="NotRegularFileException">Not a regular file.</exception>
    /// <exception cref="PosixException">It cannot be opened.</exception>
    public static void DropCache(string path)
    {
        using SafeFileHandle file = SafeOpen.OpenRegular(Full(path), out _);
        Posix.AdviseDontNeed(file);
    }

    /// <summary>Hard link, synced; false when this file system or pair of file systems has no links. The folder is left to the caller.</summary>
    internal static bool TryLink(string from, string to)
    {
        using SafeFileHandle source = SafeOpen.OpenRegular(from, out FileIdentity opened);
        Posix.Fsync(source, from);
        int errno = Posix.TryLink(from, to);
        if (errno is Errno.CrossDevice or Errno.NoPermission or Errno.TooManyLinks or Errno.NotSupported or Errno.NotImplemented)
        {
            return false;
        }

        if (errno != 0)
        {
            throw new PosixException(errno, "link", to, from);
        }

        if (PosixStat.Look(to).Identity.IsSameFile(opened))
        {
            return true;
        }

        _ = Posix.TryUnlink(to);
        throw new SourceChangedException(from, "the file that was opened", "another one exchanged for it");
    }

    /// <summary>Copies a regular file to a new name with every step of <see cref="WriteNew(string, Action{Stream})"/>.</summary>
    private static void CopyNew(string from, string to, bool keepTime, bool readBack)
    {
        string temporary = TemporaryNames.Beside(to);
        string digest = "";
        using (SafeFileHandle source = SafeOpen.OpenRegular(from, out FileIdentity opened))
        {
            WriteTemporary(temporary, FileModes.NewFile, writer =>
            {
                digest = FileCopy.Into(writer, source, opened, from, CancellationToken.None);
                if (keepTime)
                {
                    writer.Flush();
                    writer.SetModified(File.GetLastWriteTimeUtc(source));
                }
            });
        }

        if (readBack)
        {
            OrDiscard(temporary, () =>
            {
                DropCache(temporary);
                string found = FileDigest.Sha256(temporary);
                if (found != digest)
                {
                    throw new SourceChangedException(from, $"a copy with SHA-256 {digest}", $"{found} when the copy was read back");
                }
            });
        }

        Publish(temporary, to);
    }

    private static void WriteTemporary(string temporary, int mode, Action<DurableWriter> write)
    {
        using DurableWriter writer = DurableWriter.CreateNew(temporary, mode);
        OrDiscard(temporary, () =>
        {
            write(writer);
            writer.Finish();
        });
    }

    private static void Publish(string temporary, string path)
    {
        OrDiscard(temporary, () => Renaming.WithoutReplacing(temporary, path));
        SyncFolder(FolderOf(path));
    }

    /// <summary>Runs a step; when it fails, the temporary file goes. Should that fail too, its name tells the next start what it is.</summary>
    private static void OrDiscard(string temporary, Action step)
    {
        try
        {
            step();
        }
        catch
        {
            _ = Posix.TryUnlink(temporary);
            throw;
        }
    }

    private static void SyncBothFolders(string from, string to)
    {
        string target = FolderOf(to);
        SyncFolder(target);
        string source = FolderOf(from);
        if (source != target)
        {
            SyncFolder(source);
        }
    }

    private static string Full(string path)
    {
        ArgumentException.ThrowIfNullOrEmpty(path);
        return Path.GetFullPath(path);
    }

    private static string FolderOf(string path) =>
        Path.GetDirectoryName(Path.TrimEndingDirectorySeparator(path)) ?? throw new ArgumentException("The root has no folder above it.", nameof(path));
}
