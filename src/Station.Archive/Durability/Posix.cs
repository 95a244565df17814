using System.Runtime.InteropServices;
using Microsoft.Win32.SafeHandles;

namespace Station.Archive.Durability;

/// <summary>
/// Checked calls of the C library: interrupted calls are repeated, every failure becomes a <see cref="PosixException"/>, and every call
/// that changes something on disk first passes <see cref="CrashPoints"/>.
/// </summary>
/// <remarks>
/// The class library hides a failed fsync and has no fsync for folders and no rename without replacement, hence these.
/// Flag values: Linux asm-generic/fcntl.h; the two that differ on arm64 are chosen at run time.
/// </remarks>
internal static partial class Posix
{
    public const int ReadOnly = 0;
    public const int WriteOnly = 1;
    public const int ReadWrite = 2;
    public const int Create = 0x40;
    public const int Exclusive = 0x80;
    public const int Append = 0x400;
    public const int NonBlock = 0x800;
    public const int CloseOnExec = 0x80000;

    public static readonly int Directory = IsArm ? 0x4000 : 0x10000;
    public static readonly int NoFollow = IsArm ? 0x8000 : 0x20000;

    private static bool IsArm => RuntimeInformation.ProcessArchitecture is Architecture.Arm64 or Architecture.Arm;

    private const string Libc = "libc";
    private const int CurrentFolder = -100;     // AT_FDCWD
    private const uint RenameNoReplaceFlag = 1; // RENAME_NOREPLACE
    private const uint RenameExchangeFlag = 2; // RENAME_EXCHANGE
    private const int GetFlags = 3;             // F_GETFL
    private const int SetFlags = 4;             // F_SETFL
    private const int SetSignal = 10;           // F_SETSIG
    private const int SetLease = 1024;          // F_SETLEASE
    private const int LeaseRead = 0;            // F_RDLCK
    private const int LeaseNone = 2;            // F_UNLCK
    private const int UrgentSignal = 23;        // SIGURG, ignored unless somebody handles it
    private const int LockExclusive = 2;        // LOCK_EX
    private const int LockNoWait = 4;           // LOCK_NB
    private const int LockRelease = 8;          // LOCK_UN
    private const int Kill = 9;                 // SIGKILL
    private const int AdviceSequential = 2;     // POSIX_FADV_SEQUENTIAL
    private const int AdviceDontNeed = 4;       // POSIX_FADV_DONTNEED on x64 and arm64

    /// <summary>Opens; the handle is closed with it. Not a crash point unless it creates a file.</summary>
    public static SafeFileHandle Open(string path, int flags, int mode = 0)
    {
        RefuseNul(path);
        if ((flags & Create) != 0)
        {
            CrashPoints.Reached("create");
        }

        int descriptor;
        do
        {
            descriptor = OpenCall(path, flags | CloseOnExec, (uint)mode);
        }
        while (descriptor < 0 && Interrupted());

        return descriptor >= 0 ? new SafeFileHandle(descriptor, ownsHandle: true) : throw Failed("open", path);
    }

    public static int Read(SafeFileHandle file, Span<byte> buffer, long offset, string path)
    {
        while (true)
        {
            nint count = ReadCall(file, ref MemoryMarshal.GetReference(buffer), (nuint)buffer.Length, offset);
            if (count >= 0)
            {
                return (int)count;
            }

            if (!Interrupted())
            {
                throw Failed("read", path);
            }
        }
    }

    /// <summary>Writes all of it: a short write is continued.</summary>
    public static void WriteAll(SafeFileHandle file, ReadOnlySpan<byte> bytes, string path)
    {
        while (!bytes.IsEmpty)
        {
            nint count = WriteCall(file, in MemoryMarshal.GetReference(bytes), (nuint)bytes.Length);
            if (count >= 0)
            {
                bytes = bytes[(int)count..];
            }
            else if (!Interrupted())
            {
                throw Failed("write", path);
            }
        }
    }

    public static void Fsync(SafeFileHandle file, string path)
    {
        CrashPoints.Reached("fsync");
        while (FsyncCall(file) != 0)
        {
            // An interrupted fsync has not reported anything about the data yet, so calling again is no retry after failure.
            if (!Interrupted())
            {
                throw Failed("fsync", path);
            }
        }
    }

    /// <summary>Closes and reports what close reports (network file systems write here). Never repeated: Linux has closed it either way.</summary>
    public static void Close(SafeFileHandle file, string path)
    {
        int descriptor = (int)file.DangerousGetHandle();
        file.SetHandleAsInvalid();
        if (CloseCall(descriptor) != 0 && Marshal.GetLastPInvokeError() != Errno.Interrupted)
        {
            throw Failed("close", path);
        }
    }

    public static void Truncate(SafeFileHandle file, long bytes, string path)
    {
        CrashPoints.Reached("truncate");
        while (TruncateCall(file, bytes) != 0)
        {
            if (!Interrupted())
            {
                throw Failed("ftruncate", path);
            }
        }
    }

    /// <summary>renameat2 with RENAME_NOREPLACE. The error is returned, 0 when done, since the caller has another way for some of them.</summary>
    public static int TryRenameNoReplace(string from, string to)
    {
        RefuseNul(from);
        RefuseNul(to);
        CrashPoints.Reached("rename");
        return RenameAt2Call(CurrentFolder, from, CurrentFolder, to, RenameNoReplaceFlag) == 0 ? 0 : Marshal.GetLastPInvokeError();
    }

    /// <summary>renameat2 with RENAME_EXCHANGE: two names change places in one step. The error is returned, 0 when done.</summary>
    public static int TryExchange(string one, string other)
    {
        RefuseNul(one);
        RefuseNul(other);
        CrashPoints.Reached("rename");
        return RenameAt2Call(CurrentFolder, one, CurrentFolder, other, RenameExchangeFlag) == 0 ? 0 : Marshal.GetLastPInvokeError();
    }

    public static int TryRename(string from, string to)
    {
        RefuseNul(from);
        RefuseNul(to);
        CrashPoints.Reached("rename");
        return RenameCall(from, to) == 0 ? 0 : Marshal.GetLastPInvokeError();
    }

    public static int TryLink(string from, string to)
    {
        RefuseNul(from);
        RefuseNul(to);
        CrashPoints.Reached("link");
        return LinkCall(from, to) == 0 ? 0 : Marshal.GetLastPInvokeError();
    }

    public static int TryUnlink(string path)
    {
        RefuseNul(path);
        CrashPoints.Reached("unlink");
        return UnlinkCall(path) == 0 ? 0 : Marshal.GetLastPInvokeError();
    }

    public static int TryMakeFolder(string path)
    {
        RefuseNul(path);
        CrashPoints.Reached("mkdir");
        return MakeFolderCall(path, 0x1ED /* 0755, less the umask */) == 0 ? 0 : Marshal.GetLastPInvokeError();
    }

    public static void RemoveFolder(string path)
    {
        RefuseNul(path);
        CrashPoints.Reached("rmdir");
        if (RemoveFolderCall(path) != 0)
        {
            throw Failed("rmdir", path);
        }
    }

    public static void ChangeMode(SafeFileHandle file, int mode, string path)
    {
        CrashPoints.Reached("chmod");
        while (ChangeModeCall(file, (uint)mode) != 0)
        {
            if (!Interrupted())
            {
                throw Failed("fchmod", path);
            }
        }
    }

    /// <summary>By name, for a folder that cannot be opened because it lacks the read bit. Follows links: look first.</summary>
    public static void ChangeMode(string path, int mode)
    {
        RefuseNul(path);
        CrashPoints.Reached("chmod");
        if (ChangeModeByNameCall(path, (uint)mode) != 0)
        {
            throw Failed("chmod", path);
        }
    }

    /// <summary>Takes the exclusive lock; false when another open file holds it and <paramref name="wait"/> is not set.</summary>
    public static bool Lock(SafeFileHandle file, bool wait, string path)
    {
        while (LockCall(file, LockExclusive | (wait ? 0 : LockNoWait)) != 0)
        {
            int errno = Marshal.GetLastPInvokeError();
            if (errno == Errno.WouldBlock)
            {
                return false;
            }

            if (errno != Errno.Interrupted)
            {
                throw new PosixException(errno, "flock", path);
            }
        }

        return true;
    }

    /// <summary>
    /// Gives the lock back now. Closing alone is not enough: a program being started at this moment holds a copy of every handle until it runs its own code,
    /// and the lock lasts as long as the last copy. Cannot fail on a handle that was locked; closing follows anyway.
    /// </summary>
    public static void Unlock(SafeFileHandle file) => _ = LockCall(file, LockRelease);

    /// <summary>A handle opened without blocking goes back to the ordinary way of reading.</summary>
    public static void ClearNonBlock(SafeFileHandle file, string path)
    {
        int flags = ControlCall(file, GetFlags, 0);
        if (flags < 0 || ControlCall(file, SetFlags, flags & ~NonBlock) < 0)
        {
            throw Failed("fcntl", path);
        }
    }

    /// <summary>Takes a read lease and gives it back at once: 0, or the error that refused it, EAGAIN while somebody has the file open for writing.</summary>
    /// <remarks>
    /// The signal is set first: a program that opens the file for writing while the lease is held makes the kernel send it, and the default, SIGIO,
    /// ends a process that does not handle it.
    /// </remarks>
    public static int TryReadLease(SafeFileHandle file)
    {
        if (ControlCall(file, SetSignal, UrgentSignal) < 0 || ControlCall(file, SetLease, LeaseRead) < 0)
        {
            return Marshal.GetLastPInvokeError();
        }

        return ControlCall(file, SetLease, LeaseNone) < 0 ? Marshal.GetLastPInvokeError() : 0;
    }

    /// <summary>Next entries of an open folder as the kernel writes them (struct linux_dirent64).</summary>
    /// <returns>Bytes written; 0 at the end.</returns>
    public static int ReadEntries(SafeFileHandle folder, Span<byte> buffer, string path)
    {
        while (true)
        {
            nint count = EntriesCall(folder, ref MemoryMarshal.GetReference(buffer), (nuint)buffer.Length);
            if (count >= 0)
            {
                return (int)count;
            }

            if (!Interrupted())
            {
                throw Failed("getdents64", path);
            }
        }
    }

    /// <summary>renameat2 within an open folder; names end with NUL. The error is returned, 0 when done.</summary>
    public static int TryRenameWithin(SafeFileHandle folder, ref readonly byte from, ref readonly byte to, bool replace)
    {
        CrashPoints.Reached("rename");
        return RenameWithinCall(folder, in from, folder, in to, replace ? 0 : RenameNoReplaceFlag) == 0 ? 0 : Marshal.GetLastPInvokeError();
    }

    /// <summary>Advice only: an error means the kernel keeps or reads what it likes, and nothing is lost.</summary>
    public static void AdviseSequential(SafeFileHandle file) => _ = AdviseCall(file, 0, 0, AdviceSequential);

    /// <summary>Advice only, see <see cref="AdviseSequential"/>; pages not yet written stay.</summary>
    public static void AdviseDontNeed(SafeFileHandle file) => _ = AdviseCall(file, 0, 0, AdviceDontNeed);

    public static void KillSelf() => _ = KillCall(Environment.ProcessId, Kill);

    private static bool Interrupted() => Marshal.GetLastPInvokeError() == Errno.Interrupted;

    private static PosixException Failed(string operation, string path) => new(Marshal.GetLastPInvokeError(), operation, path);

    /// <summary>A NUL would end the name for the kernel: another file than the one asked for.</summary>
    private static void RefuseNul(string path)
    {
        ArgumentException.ThrowIfNullOrEmpty(path);
        if (path.Contains('\0'))
        {
            throw new ArgumentException($"{PathText.Printable(path)}: a file name cannot hold NUL", nameof(path));
        }
    }

    [LibraryImport(Libc, EntryPoint = "open", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    private static partial int OpenCall(string path, int flags, uint mode);

    [LibraryImport(Libc, EntryPoint = "pread64", SetLastError = true)]
    private static partial nint ReadCall(SafeFileHandle file, ref byte buffer, nuint count, long offset);

    [LibraryImport(Libc, EntryPoint = "write", SetLastError = true)]
    private static partial nint WriteCall(SafeFileHandle file, in byte buffer, nuint count);

    [LibraryImport(Libc, EntryPoint = "fsync", SetLastError = true)]
    private static partial int FsyncCall(SafeFileHandle file);

    [LibraryImport(Libc, EntryPoint = "close", SetLastError = true)]
    private static partial int CloseCall(int descriptor);

    [LibraryImport(Libc, EntryPoint = "ftruncate64", SetLastError = true)]
    private static partial int TruncateCall(SafeFileHandle file, long bytes);

    [LibraryImport(Libc, EntryPoint = "renameat2", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    private static partial int RenameAt2Call(int fromFolder, string from, int toFolder, string to, uint flags);

    [LibraryImport(Libc, EntryPoint = "renameat2", SetLastError = true)]
    private static partial int RenameWithinCall(SafeFileHandle fromFolder, ref readonly byte from, SafeFileHandle toFolder, ref readonly byte to, uint flags);

    [LibraryImport(Libc, EntryPoint = "getdents64", SetLastError = true)]
    private static partial nint EntriesCall(SafeFileHandle folder, ref byte buffer, nuint bytes);

    [LibraryImport(Libc, EntryPoint = "rename", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    private static partial int RenameCall(string from, string to);

    [LibraryImport(Libc, EntryPoint = "link", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    private static partial int LinkCall(string from, string to);

    [LibraryImport(Libc, EntryPoint = "unlink", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    private static partial int UnlinkCall(string path);

    [LibraryImport(Libc, EntryPoint = "mkdir", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    private static partial int MakeFolderCall(string path, uint mode);

    [LibraryImport(Libc, EntryPoint = "rmdir", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    private static partial int RemoveFolderCall(string path);

    [LibraryImport(Libc, EntryPoint = "fchmod", SetLastError = true)]
    private static partial int ChangeModeCall(SafeFileHandle file, uint mode);

    [LibraryImport(Libc, EntryPoint = "chmod", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    private static partial int ChangeModeByNameCall(string path, uint mode);

    [LibraryImport(Libc, EntryPoint = "flock", SetLastError = true)]
    private static partial int LockCall(SafeFileHandle file, int operation);

    [LibraryImport(Libc, EntryPoint = "fcntl", SetLastError = true)]
    private static partial int ControlCall(SafeFileHandle file, int command, int argument);

    [LibraryImport(Libc, EntryPoint = "posix_fadvise64")]
    private static partial int AdviseCall(SafeFileHandle file, long offset, long bytes, int advice);

    [LibraryImport(Libc, EntryPoint = "kill", SetLastError = true)]
    private static partial int KillCall(int process, int signal);
}
