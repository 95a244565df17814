using System.Globalization;

namespace Station.Daemon.Stages;

/// <summary>Whether there is room for a capture's master and bag before work on it begins. Pure.</summary>
/// <remarks>
/// Working folder and archive each need room for the capture once: a FLAC master is no larger than the words it holds but for a few bytes a
/// block (RFC 9639 allows verbatim frames), and a bag holds the master or the file itself. On one disk both are needed, because a master
/// may have to be copied.
/// </remarks>
internal static class SpaceRule
{
    /// <summary>Room for what is small beside any capture: envelope, picture, reports, lists.</summary>
    public const long SmallFilesBytes = 16L * 1024 * 1024;

    /// <param name="capture">Bytes of the dropped file.</param>
    /// <param name="keepFree">Bytes that must stay free on each disk.</param>
    /// <param name="working">The disk of the working folder.</param>
    /// <param name="archive">The disk of the archive.</param>
    /// <returns>Null when there is room; else one line naming folder, needed and free bytes.</returns>
    public static string? Lacking(long capture, long keepFree, in DiskSpace working, in DiskSpace archive)
    {
        if (working.Device == archive.Device)
        {
            return Lacking(working, Sum(capture, capture, keepFree));
        }

        return Lacking(working, Sum(capture, 0, keepFree)) ?? Lacking(archive, Sum(capture, 0, keepFree));
    }

    private static string? Lacking(in DiskSpace disk, Int128 needed) => disk.FreeBytes >= needed
        ? null
        : string.Create(
            CultureInfo.InvariantCulture, $"Not enough room on the disk of {disk.Folder}: {needed} bytes are needed before work begins, {disk.FreeBytes} are free.");

    private static Int128 Sum(long first, long second, long keepFree) => (Int128)first + second + keepFree + SmallFilesBytes;
}

/// <summary>One disk as it is now.</summary>
/// <param name="Folder">A folder on it, for messages.</param>
/// <param name="Device">Tells whether two folders share it.</param>
/// <param name="FreeBytes">What this account may still write.</param>
internal readonly record struct DiskSpace(string Folder, ulong Device, long FreeBytes);
