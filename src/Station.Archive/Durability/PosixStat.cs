using System.Runtime.InteropServices;
using Microsoft.Win32.SafeHandles;

namespace Station.Archive.Durability;

/// <summary>Looks at files through statx, whose record has one layout on every architecture (stat's has not).</summary>
internal static partial class PosixStat
{
    private const int CurrentFolder = -100;        // AT_FDCWD
    private const int NoFollowFlag = 0x100;        // AT_SYMLINK_NOFOLLOW
    private const int EmptyPath = 0x1000;          // AT_EMPTY_PATH: look at the handle itself
    private const uint Wanted = 0x7FF | 0x800;     // STATX_BASIC_STATS, STATX_BTIME

    /// <summary>Looks at a name without following links; null when nothing stands there.</summary>
    public static FileFacts? TryLook(string path)
    {
        if (path.Contains('\0'))
        {
            return null;
        }

        int errno = Call(CurrentFolder, path, NoFollowFlag, out StatRecord record);
        return errno switch
        {
            0 => record.ToFacts(),
            Errno.NoEntry or Errno.NotDirectory => null,
            _ => throw new PosixException(errno, "statx", path),
        };
    }

    /// <summary>Looks at a name in an open folder without following links; null when nothing stands there or the look failed.</summary>
    /// <param name="name">First of the name's bytes, which a NUL ends.</param>
    /// <param name="errno">0 when the look succeeded or the name is gone.</param>
    public static FileFacts? TryLook(SafeFileHandle folder, ref readonly byte name, out int errno)
    {
        StatRecord record;
        do
        {
            errno = StatAtCall(folder, in name, NoFollowFlag, Wanted, out record) == 0 ? 0 : Marshal.GetLastPInvokeError();
        }
        while (errno == Errno.Interrupted);

        if (errno == 0)
        {
            return record.ToFacts();
        }

        errno = errno == Errno.NoEntry ? 0 : errno;
        return null;
    }

    public static FileFacts Look(string path) => TryLook(path) ?? throw new PosixException(Errno.NoEntry, "statx", path);

    public static FileFacts Look(SafeFileHandle file, string path)
    {
        bool held = false;
        try
        {
            file.DangerousAddRef(ref held);
            int errno = Call((int)file.DangerousGetHandle(), "", EmptyPath, out StatRecord record);
            return errno == 0 ? record.ToFacts() : throw new PosixException(errno, "statx", path);
        }
        finally
        {
            if (held)
            {
                file.DangerousRelease();
            }
        }
    }

    private static int Call(int folder, string path, int flags, out StatRecord record)
    {
        while (true)
        {
            if (StatCall(folder, path, flags, Wanted, out record) == 0)
            {
                return 0;
            }

            int errno = Marshal.GetLastPInvokeError();
            if (errno != Errno.Interrupted)
            {
                return errno;
            }
        }
    }

    [LibraryImport("libc", EntryPoint = "statx", SetLastError = true, StringMarshalling = StringMarshalling.Utf8)]
    private static partial int StatCall(int folder, string path, int flags, uint mask, out StatRecord record);

    [LibraryImport("libc", EntryPoint = "statx", SetLastError = true)]
    private static partial int StatAtCall(SafeFileHandle folder, ref readonly byte name, int flags, uint mask, out StatRecord record);

    /// <summary>struct statx of linux/stat.h: 256 bytes, offsets as there.</summary>
    [StructLayout(LayoutKind.Explicit, Size = 256)]
    private readonly struct StatRecord
    {
        [FieldOffset(16)] private readonly uint _links;
        [FieldOffset(20)] private readonly uint _owner;
        [FieldOffset(28)] private readonly ushort _mode;
        [FieldOffset(32)] private readonly ulong _inode;
        [FieldOffset(40)] private readonly ulong _bytes;
        [FieldOffset(80)] private readonly long _bornSeconds;
        [FieldOffset(88)] private readonly uint _bornNanoseconds;
        [FieldOffset(96)] private readonly long _changedSeconds;
        [FieldOffset(104)] private readonly uint _changedNanoseconds;
        [FieldOffset(112)] private readonly long _modifiedSeconds;
        [FieldOffset(120)] private readonly uint _modifiedNanoseconds;
        [FieldOffset(136)] private readonly uint _deviceMajor;
        [FieldOffset(140)] private readonly uint _deviceMinor;

        public FileFacts ToFacts()
        {
            FileIdentity identity = new(((ulong)_deviceMajor << 32) | _deviceMinor, _inode, (long)_bytes, Nanoseconds(_modifiedSeconds, _modifiedNanoseconds));
            return new FileFacts(
                Kind(), identity, _links, _owner, _mode & 0xFFF, Nanoseconds(_changedSeconds, _changedNanoseconds), Nanoseconds(_bornSeconds, _bornNanoseconds));
        }

        /// <summary>Saturates: 64 bits of nanoseconds end in 2262, and a file may bear any time.</summary>
        private static long Nanoseconds(long seconds, uint rest)
        {
            Int128 whole = ((Int128)seconds * 1_000_000_000) + rest;
            return (long)Int128.Clamp(whole, long.MinValue, long.MaxValue);
        }

        // S_IFMT and its values, linux/stat.h.
        private FileKind Kind() => (_mode & 0xF000) switch
        {
            0x8000 => FileKind.Regular,
            0x4000 => FileKind.Folder,
            0xA000 => FileKind.SymbolicLink,
            0x1000 => FileKind.Fifo,
            0xC000 => FileKind.Socket,
            0x2000 => FileKind.CharacterDevice,
            0x6000 => FileKind.BlockDevice,
            _ => FileKind.Other,
        };
    }
}
