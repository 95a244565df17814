using Microsoft.Win32.SafeHandles;

namespace Station.Archive.Durability;

/// <summary>
/// Asks the kernel whether anybody on this machine has a file open for writing, by taking a read lease and giving it back at once. A program that
/// opens the file for writing in between is held up for that instant and then goes on.
/// </summary>
/// <remarks>fcntl(2), F_SETLEASE: the caller must own the file or have CAP_LEASE (EACCES), and the file system must have leases (EINVAL).</remarks>
public static class WriterProbe
{
    /// <param name="file">Opened for reading only, see <see cref="SafeOpen.OpenRegular"/>.</param>
    public static WriterPresence Ask(SafeFileHandle file)
    {
        ArgumentNullException.ThrowIfNull(file);
        return Posix.TryReadLease(file) switch
        {
            0 => WriterPresence.None,
            Errno.WouldBlock => WriterPresence.Present,
            _ => WriterPresence.Unknown,
        };
    }
}
