using System.Globalization;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;

namespace Station.Daemon.Stages;

/// <summary>Looks at the disks a job is about to fill.</summary>
/// <param name="keepFreeBytes">Bytes that must stay free on each.</param>
/// <param name="look">How a folder's disk is looked at.</param>
internal sealed class FreeSpace(StationFolders folders, long keepFreeBytes, Func<string, DiskSpace> look)
{
    /// <returns>Null when there is room for the job; else why not.</returns>
    public string? Lacking(Job job)
    {
        string? lacking = SpaceRule.Lacking(job.Capture.Bytes, keepFreeBytes, look(folders.Working), look(folders.Archive));
        return lacking is null ? null : string.Create(CultureInfo.InvariantCulture, $"{job.Capture.FileName}: {lacking}");
    }
}
