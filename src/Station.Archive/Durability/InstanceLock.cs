using System.Text;
using Microsoft.Win32.SafeHandles;

namespace Station.Archive.Durability;

/// <summary>
/// Sole ownership of something, held by the kernel (flock) for as long as this object lives: released at once when the process dies in any
/// way, so no stale lock is ever left. The file stays; its content only tells who holds it.
/// </summary>
public sealed class InstanceLock : IDisposable
{
    private const int MaxOwnerBytes = 4096;

    private readonly string _path;
    private readonly SafeFileHandle _file;

    private InstanceLock(string path, SafeFileHandle file)
    {
        _path = path;
        _file = file;
    }

    /// <summary>Takes the lock when it is free. Never waits.</summary>
    /// <param name="path">Lock file, created when missing; its folder must exist.</param>
    /// <param name="ownerText">One line naming the owner, such as process id and start time; shown to whoever is refused.</param>
    /// <param name="heldBy">The owner's line when refused ("" when it has not written one yet), otherwise null.</param>
    /// <returns>The lock, or null when another holder (in this or another process) has it.</returns>
    /// <exception cref="PosixException">The file cannot be opened, locked or written.</exception>
    public static InstanceLock? TryAcquire(string path, string ownerText, out string? heldBy)
    {
        ArgumentException.ThrowIfNullOrEmpty(path);
        ArgumentNullException.ThrowIfNull(ownerText);
        path = Path.GetFullPath(path);
        heldBy = null;
        while (true)
        {
            SafeFileHandle file = Posix.Open(path, Posix.ReadWrite | Posix.Create | Posix.NoFollow, FileModes.NewFile);
            bool kept = false;
            try
            {
                if (!Posix.Lock(file, wait: false, path))
                {
                    heldBy = PathText.Printable(ReadOwner(file, path));
                    return null;
                }

                // Somebody may have removed the name between opening and locking: a lock on a nameless file keeps nobody out.
                if (PosixStat.TryLook(path) is { } named && named.Identity.IsSameFile(PosixStat.Look(file, path).Identity))
                {
                    Posix.Truncate(file, 0, path);
                    Posix.WriteAll(file, Encoding.UTF8.GetBytes(ownerText + "\n"), path);
                    kept = true;
                    return new InstanceLock(path, file);
                }
            }
            finally
            {
                if (!kept)
                {
                    Posix.Unlock(file);
                    file.Dispose();
                }
            }
        }
    }

    /// <summary>Gives the lock back.</summary>
    public void Dispose()
    {
        if (_file.IsClosed)
        {
            return;
        }

        try
        {
            Posix.Truncate(_file, 0, _path);
        }
        catch (PosixException)
        {
            // The text is a courtesy; closing the handle below is what releases the lock.
        }

        Posix.Unlock(_file);
        _file.Dispose();
    }

    private static string ReadOwner(SafeFileHandle file, string path)
    {
        byte[] bytes = new byte[MaxOwnerBytes];
        return Encoding.UTF8.GetString(bytes, 0, Posix.Read(file, bytes, 0, path)).TrimEnd('\n', '\r', ' ');
    }
}
