namespace Station.Archive.Durability;

/// <summary>Error numbers of Linux that decide what happens next.</summary>
/// <remarks>Linux asm-generic/errno-base.h and errno.h; equal on x64 and arm64.</remarks>
internal static class Errno
{
    public const int NoPermission = 1;        // EPERM
    public const int NoEntry = 2;             // ENOENT
    public const int Interrupted = 4;         // EINTR
    public const int InputOutput = 5;         // EIO
    public const int NoDeviceOrAddress = 6;   // ENXIO: a socket was opened, or a FIFO for writing without a reader
    public const int WouldBlock = 11;         // EAGAIN
    public const int AccessDenied = 13;       // EACCES
    public const int Exists = 17;             // EEXIST
    public const int CrossDevice = 18;        // EXDEV
    public const int NotDirectory = 20;       // ENOTDIR
    public const int IsDirectory = 21;        // EISDIR
    public const int Invalid = 22;            // EINVAL
    public const int NoSpace = 28;            // ENOSPC
    public const int TooManyLinks = 31;       // EMLINK
    public const int NotImplemented = 38;     // ENOSYS
    public const int NotEmpty = 39;           // ENOTEMPTY
    public const int TooManySymbolicLinks = 40; // ELOOP: what O_NOFOLLOW answers for a symbolic link
    public const int BadMessage = 74;         // EBADMSG: a file system found a wrong checksum of its own
    public const int NotSupported = 95;       // EOPNOTSUPP
    public const int StaleHandle = 116;       // ESTALE
    public const int NeedsCleaning = 117;     // EUCLEAN: the file system found its structure damaged
    public const int QuotaExceeded = 122;     // EDQUOT
    public const int ReadOnlyFileSystem = 30; // EROFS
}
