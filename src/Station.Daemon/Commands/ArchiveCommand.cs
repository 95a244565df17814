using System.Globalization;
using Microsoft.Extensions.Logging.Abstractions;
using Station.Archive.Copies;
using Station.Archive.Durability;
using Station.Daemon.Commands.Rebuilding;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Commands;

/// <summary><c>stationd archive prepare</c>: a person says, with its disk mounted, that this folder is the archive.</summary>
internal static class ArchiveCommand
{
    public static async Task<int> PrepareAsync(StationConfiguration configuration, TimeProvider clock, CancellationToken cancellationToken)
    {
        StationFolders folders = StationSetup.Folders(configuration);
        if (!Directory.Exists(folders.Archive))
        {
            await Console.Error.WriteLineAsync($"{folders.Archive}: there is no such folder. Mount the disk and make the folder first.");
            return ExitCodes.Usage;
        }

        folders.Create();
        string owner = string.Create(CultureInfo.InvariantCulture, $"stationd archive prepare, process {Environment.ProcessId} on {Environment.MachineName}");
        using InstanceLock? ownership = InstanceLock.TryAcquire(folders.LockFile, owner, out string? heldBy);
        if (ownership is null)
        {
            await Console.Error.WriteLineAsync($"{folders.Root} is in use by {heldBy}. Stop it first: which archive is the right one is asked at its start.");
            return ExitCodes.Busy;
        }

        if (!File.Exists(folders.Database) && StationRemains.HasHistory(folders))
        {
            // An empty database would hide that the station's own is missing; the rebuilt one learns the marker from the folder.
            CopiesMarker made = folders.CreateArchive(clock.GetUtcNow());
            Console.WriteLine($"{folders.Archive} is this station's archive, prepared {made.PreparedAt:yyyy-MM-dd}. The database is missing: stationd state rebuild.");
            return 0;
        }

        using SqliteStore store = StationSetup.OpenStore(folders);
        CopiesMarker marker = await new ArchiveRoot(folders, store, clock, NullLogger<ArchiveRoot>.Instance).PrepareAsync(cancellationToken);
        Console.WriteLine($"{folders.Archive} is this station's archive, prepared {marker.PreparedAt:yyyy-MM-dd}.");
        return 0;
    }
}
