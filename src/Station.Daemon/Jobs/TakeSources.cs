using Station.Archive.Durability;
using Station.Daemon.Configuration;

namespace Station.Daemon.Jobs;

/// <summary>Where the sound of a capture can be read from: its bag once archived, the dropped file before.</summary>
internal sealed class TakeSources(StationFolders folders)
{
    /// <summary>The master in the bag, or the dropped file.</summary>
    /// <exception cref="FileNotFoundException">Neither is there.</exception>
    public MasterFile Of(Job job)
    {
        string path = job.Archived() is { } archived
            ? Path.Combine(folders.Absolute(archived.Bag), archived.Master)
            : folders.Absolute(job.Capture.Location);
        return SafeOpen.TryLook(path) is not null
            ? new MasterFile(path, job.Archived() is null || job.Inspected() is { DamageKnown: true })
            : throw new FileNotFoundException($"The sound of {job.Capture.Label} is not at {path}.", path);
    }
}
