using Station.Archive.Durability;

namespace Station.Daemon.Stages;

/// <summary>The disk a folder lies on.</summary>
internal static class DiskOf
{
    /// <exception cref="IOException">The folder is not there.</exception>
    public static DiskSpace Path(string folder)
    {
        string real = Directory.ResolveLinkTarget(folder, returnFinalTarget: true)?.FullName ?? folder;
        FileIdentity identity = SafeOpen.TryIdentify(real) ?? throw new DirectoryNotFoundException($"{folder} is not there.");
        return new(folder, identity.Device, new DriveInfo(real).AvailableFreeSpace);
    }
}
