using Microsoft.Win32.SafeHandles;

namespace Station.Archive.Durability;

/// <summary>Opens files that others put there: never follows a link, never waits, never reads anything but a regular file.</summary>
public static class SafeOpen
{
    /// <summary>Opens an existing regular file for reading.</summary>
    /// <param name="path">Name; its last part is not followed when it is a link (the folders before it are the station's own).</param>
    /// <param name="identity">What was opened, taken from the open handle: compare with a later look to see an exchange.</param>
    /// <returns>Handle of the caller to dispose.</returns>
    /// <exception cref="NotRegularFileException">A link, folder, pipe, socket or device; nothing was read from it and nothing waited.</exception>
    /// <exception cref="PosixException">Missing, forbidden, out of handles.</exception>
    public static SafeFileHandle OpenRegular(string path, out FileIdentity identity)
    {
        ArgumentException.ThrowIfNullOrEmpty(path);

        // Opening a device can act on it, and a socket cannot be opened at all: look first. The look at the handle below is the one that counts.
        FileFacts named = PosixStat.Look(path);
        if (named.Kind != FileKind.Regular)
        {
            throw new NotRegularFileException(path, named.Kind);
        }

        SafeFileHandle file = OpenWithoutFollowing(path);
        try
        {
            FileFacts opened = PosixStat.Look(file, path);
            if (opened.Kind != FileKind.Regular)
            {
                throw new NotRegularFileException(path, opened.Kind);
            }

            Posix.ClearNonBlock(file, path);
            identity = opened.Identity;
            return file;
        }
        catch
        {
            file.Dispose();
            throw;
        }
    }

    /// <summary>Identity of an open file, as of now.</summary>
    /// <exception cref="PosixException">The handle cannot be looked at.</exception>
    public static FileIdentity Identify(SafeFileHandle file) => Look(file).Identity;

    /// <summary>Identity of whatever stands under a name, links not followed; null when nothing does.</summary>
    /// <exception cref="PosixException">The folder cannot be searched.</exception>
    public static FileIdentity? TryIdentify(string path) => TryLook(path)?.Identity;

    /// <summary>All facts of an open file.</summary>
    /// <exception cref="PosixException">The handle cannot be looked at.</exception>
    public static FileFacts Look(SafeFileHandle file)
    {
        ArgumentNullException.ThrowIfNull(file);
        return PosixStat.Look(file, "(open file)");
    }

    /// <summary>All facts of whatever stands under a name, links not followed; null when nothing does.</summary>
    /// <exception cref="PosixException">The folder cannot be searched.</exception>
    public static FileFacts? TryLook(string path)
    {
        ArgumentException.ThrowIfNullOrEmpty(path);
        return PosixStat.TryLook(path);
    }

    private static SafeFileHandle OpenWithoutFollowing(string path)
    {
        try
        {
            return Posix.Open(path, Posix.ReadOnly | Posix.NoFollow | Posix.NonBlock);
        }
        catch (PosixException e) when (e.Errno is Errno.TooManySymbolicLinks or Errno.NoDeviceOrAddress)
        {
            // Exchanged between the look and the opening.
            throw new NotRegularFileException(path, e.Errno == Errno.TooManySymbolicLinks ? FileKind.SymbolicLink : FileKind.Socket);
        }
    }
}
