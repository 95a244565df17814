using System.Diagnostics;
using System.Runtime.InteropServices;

namespace Station.Audio.Encoding;

/// <summary>
/// The input of a child that takes its time: the pipe is made a mebibyte wide, and the next words are handed over once it is half empty. Linux wakes a writer at a full pipe for every
/// 4096 bytes the reader takes: 65,000 times for the copies of one side.
/// </summary>
internal static partial class WidePipe
{
    private const int SetPipeSize = 1031;      // F_SETPIPE_SZ, linux/fcntl.h
    private const uint BytesWaiting = 0x541B;  // FIONREAD, asm-generic/ioctls.h
    private const int WideBytes = 1 << 20;     // what /proc/sys/fs/pipe-max-size allows everybody by default, pipe(7)
    private const int LookAgainMilliseconds = 5;

    /// <summary>Widens a pipe.</summary>
    /// <returns>Its capacity in bytes; 0 where the system doesn't grant it, and then nothing is lost but the CPU.</returns>
    public static int Widen(SafeHandle pipe) => Math.Max(0, Control(pipe, SetPipeSize, WideBytes));

    /// <summary>Waits until half of a widened pipe is free, or its reader has ended.</summary>
    public static void AwaitRoom(SafeHandle pipe, int capacity, Process reader)
    {
        while (capacity > 0 && Inquire(pipe, BytesWaiting, out int waiting) == 0 && waiting > capacity / 2 && !reader.WaitForExit(LookAgainMilliseconds))
        {
            // Looked at again after a while.
        }
    }

    [LibraryImport("libc", EntryPoint = "fcntl", SetLastError = true)]
    private static partial int Control(SafeHandle file, int command, int argument);

    [LibraryImport("libc", EntryPoint = "ioctl", SetLastError = true)]
    private static partial int Inquire(SafeHandle file, uint request, out int result);
}
