using System.Globalization;
using System.Runtime.InteropServices;

namespace Station.Archive.Durability;

/// <summary>A file operation was refused by the operating system. The message is one line: <c>fsync /path: No space left on device (28)</c>.</summary>
public sealed class PosixException : IOException
{
    /// <summary>Makes the exception for one failed call.</summary>
    /// <param name="errno">Linux error number.</param>
    /// <param name="operation">Name of the call, such as <c>fsync</c>.</param>
    /// <param name="path">File the call was about; for a rename or link the new name.</param>
    /// <param name="source">The old name of a rename or link, otherwise null.</param>
    public PosixException(int errno, string operation, string path, string? source = null)
        : base(Text(errno, operation, path, source))
    {
        Errno = errno;
        Operation = operation;
        Path = path;
    }

    /// <summary>Linux error number, such as 28 for ENOSPC.</summary>
    public int Errno { get; }

    /// <summary>Name of the call that failed.</summary>
    public string Operation { get; }

    /// <summary>File the call was about; for a rename or link the new name.</summary>
    public string Path { get; }

    /// <summary>Disk full or quota used up: may pass by itself when space is back.</summary>
    public bool IsNoSpace => Errno is Durability.Errno.NoSpace or Durability.Errno.QuotaExceeded;

    /// <summary>The new name is taken; nothing was overwritten.</summary>
    public bool IsExists => Errno is Durability.Errno.Exists;

    private static string Text(int errno, string operation, string path, string? source)
    {
        string names = source is null ? PathText.Printable(path) : $"{PathText.Printable(source)} -> {PathText.Printable(path)}";
        return string.Create(CultureInfo.InvariantCulture, $"{operation} {names}: {Marshal.GetPInvokeErrorMessage(errno)} ({errno})");
    }
}
