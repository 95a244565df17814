using System.Buffers;
using System.Buffers.Binary;
using System.Runtime.InteropServices;
using Microsoft.Win32.SafeHandles;

namespace Station.Archive.Durability;

/// <summary>
/// A folder held open: its entries are listed and looked at by the bytes of their names, without building a path for each, and stay those of
/// this folder when another is put in its place.
/// </summary>
public sealed class OpenFolder : IDisposable
{
    // struct linux_dirent64, getdents64(2): inode 8 bytes, offset 8, length of the record 2, kind 1, the name and its NUL.
    private const int LengthOffset = 16;
    private const int NameOffset = 19;
    private const int BufferBytes = 64 * 1024;

    private readonly SafeFileHandle _folder;
    private readonly string _path;

    private OpenFolder(SafeFileHandle folder, string path, FileFacts facts)
    {
        _folder = folder;
        _path = path;
        Facts = facts;
    }

    /// <summary>Called for each entry.</summary>
    public delegate void Visitor(FolderEntry entry);

    /// <summary>As of the opening.</summary>
    public FileFacts Facts { get; }

    /// <summary>Opens a folder; a link in its place is not followed.</summary>
    /// <exception cref="NotAFolderException">Something else stands there.</exception>
    /// <exception cref="PosixException">ENOENT when nothing does; others as they come.</exception>
    public static OpenFolder Open(string path)
    {
        ArgumentException.ThrowIfNullOrEmpty(path);
        SafeFileHandle folder;
        try
        {
            folder = Posix.Open(path, Posix.ReadOnly | Posix.Directory | Posix.NoFollow);
        }
        catch (PosixException e) when (e.Errno is Errno.NotDirectory or Errno.TooManySymbolicLinks && PosixStat.TryLook(path) is { Kind: not FileKind.Folder and var kind })
        {
            throw new NotAFolderException(path, kind);
        }

        try
        {
            return new OpenFolder(folder, path, PosixStat.Look(folder, path));
        }
        catch
        {
            folder.Dispose();
            throw;
        }
    }

    /// <summary>Visits every entry but <c>.</c> and <c>..</c>, in no order. What comes or goes meanwhile may or may not be among them.</summary>
    /// <exception cref="PosixException">The folder could not be read to its end.</exception>
    public void ForEach(Visitor visit)
    {
        ArgumentNullException.ThrowIfNull(visit);
        byte[] buffer = ArrayPool<byte>.Shared.Rent(BufferBytes);
        try
        {
            while (Posix.ReadEntries(_folder, buffer, _path) is > 0 and var count)
            {
                for (ReadOnlySpan<byte> rest = buffer.AsSpan(0, count); !rest.IsEmpty;)
                {
                    int length = BinaryPrimitives.ReadUInt16LittleEndian(rest[LengthOffset..]);
                    ReadOnlySpan<byte> name = rest[NameOffset..length];
                    name = name[..(name.IndexOf((byte)0) + 1)];
                    rest = rest[length..];
                    if (!name.SequenceEqual(".\0"u8) && !name.SequenceEqual("..\0"u8))
                    {
                        visit(new FolderEntry(name));
                    }
                }
            }
        }
        finally
        {
            ArrayPool<byte>.Shared.Return(buffer);
        }
    }

    /// <summary>Looks at an entry, links not followed; null when it is gone.</summary>
    /// <exception cref="PosixException">The file system can't say.</exception>
    public FileFacts? TryLook(FolderEntry entry)
    {
        FileFacts? facts = PosixStat.TryLook(_folder, in entry.First, out int errno);
        return errno == 0
            ? facts
            : throw new PosixException(errno, "statx", Path.Combine(_path, System.Text.Encoding.UTF8.GetString(entry.Name)));
    }

    /// <summary>Gives an entry, named by its bytes, another name in the same folder, replacing nothing, and syncs the folder.</summary>
    /// <param name="from">1 to 255 bytes.</param>
    /// <param name="to">UTF-16 text, written as UTF-8.</param>
    /// <exception cref="PosixException">EEXIST: the name is taken. Others as they come; nothing happened unless it was the fsync.</exception>
    public void RenameNoReplace(ReadOnlySpan<byte> from, string to)
    {
        ArgumentException.ThrowIfNullOrEmpty(to);
        byte[] old = [.. from, 0];
        byte[] wanted = [.. System.Text.Encoding.UTF8.GetBytes(to), 0];
        int errno = Posix.TryRenameWithin(_folder, in MemoryMarshal.GetArrayDataReference(old), in MemoryMarshal.GetArrayDataReference(wanted), replace: false);
        if (errno is Errno.Invalid or Errno.NotImplemented or Errno.NotSupported)
        {
            // A share that knows no flags: look, then rename.
            errno = PosixStat.TryLook(Path.Combine(_path, to)) is null
                ? Posix.TryRenameWithin(_folder, in MemoryMarshal.GetArrayDataReference(old), in MemoryMarshal.GetArrayDataReference(wanted), replace: true)
                : Errno.Exists;
        }

        if (errno != 0)
        {
            throw new PosixException(errno, "renameat2", Path.Combine(_path, to));
        }

        Posix.Fsync(_folder, _path);
    }

    public void Dispose() => _folder.Dispose();
}
