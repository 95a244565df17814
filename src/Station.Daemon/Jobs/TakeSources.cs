using Station.Archive.Durability;
using Station.Daemon.Configuration;

namespace Station.Daemon.Jobs;

/// <summary>Where the sound of a capture can be read from: its bag once archived, the dropped file before.</summary>
internal sealed class TakeSources(StationFolders folders)
{
    /// <summary>Absolute path of the master in the bag, or of the dropped file.</summary>
    /// <exception cref="FileNotFoundException">Neither is there.</exception>
    public string PathOf(Job job)
    {
        string path = job.Archived() is { } archived
            ? Path.Combine(folders.Absolute(archived.Bag), archived.Master)
            : folders.Absolute(job.Capture.Location);
        return SafeOpen.TryLook(path) is not null
            ? path
            : throw new FileNotFoundException($"The sound of {job.Capture.Label} is not at {path}.", path);
    }
}
