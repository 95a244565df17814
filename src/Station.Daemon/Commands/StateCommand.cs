using System.Collections.Immutable;
using System.Globalization;
using Microsoft.Extensions.DependencyInjection;
using Station.Archive.Durability;
using Station.Daemon.Commands.Rebuilding;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Listening;

namespace Station.Daemon.Commands;

/// <summary><c>stationd state rebuild</c>: makes the database anew from archive and reports. The old one is kept aside.</summary>
internal static class StateCommand
{
    // SQLite's own names for what belongs to a database (sqlite.org/wal.html, sqlite.org/tempfiles.html; second-hand).
    private static readonly ImmutableArray<string> Beside = ["-wal", "-shm", "-journal"];

    public static async Task<int> RebuildAsync(StationConfiguration configuration, TimeProvider clock, CancellationToken cancellationToken)
    {
        StationFolders folders = StationSetup.Folders(configuration);
        if (!Directory.Exists(folders.Archive) && !Directory.Exists(folders.Reports))
        {
            await Console.Error.WriteLineAsync($"{folders.Root}: there is no station.");
            return ExitCodes.Usage;
        }

        folders.Create();
        string owner = string.Create(CultureInfo.InvariantCulture, $"stationd state rebuild, process {Environment.ProcessId}");
        using InstanceLock? ownership = InstanceLock.TryAcquire(folders.LockFile, owner, out string? heldBy);
        if (ownership is null)
        {
            await Console.Error.WriteLineAsync($"{folders.Root} is in use by {heldBy}. Stop the service first.");
            return ExitCodes.Busy;
        }

        string made = DurableFile.StagingPathFor(folders.Database);
        RemoveAll(made);
        RebuildCount count;
        try
        {
            using SqliteStore store = SqliteStore.Open(made, clock);
            await using ServiceProvider services = StationSetup.Pipeline(configuration, folders, store, JobPolicy.Service);
            var rebuilder = new StateRebuilder(
                store, folders, services.GetRequiredService<ListeningPublisher>(), services.GetRequiredService<GuideShelf>(), services.GetRequiredService<CopyGuides>(),
                configuration.Listening, Console.Error.WriteLine);
            count = await rebuilder.RunAsync(cancellationToken);
            if (count.BagsMissing > 0 && count.BagsMissing == count.Bags && folders.WhyNoArchive() is { } why)
            {
                throw new ArchiveAwayException($"{count.Bags} captures are archived, and none of their bags is there. {why}");
            }

            await store.NoteArchiveMarkerAsync(folders.CreateArchive(clock.GetUtcNow()).Id, clock.GetUtcNow(), cancellationToken);
            store.LeaveOneFile();
        }
        catch
        {
            RemoveAll(made);
            throw;
        }

        DurableFile.Sync(made);
        string? aside = PutAside(folders.Database, clock);
        DurableFile.RenameNoReplace(made, folders.Database);
        Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"{folders.Database}: {count.Records} records, {count.Captures} captures, {count.Bags} of them archived, from archive and reports."));
        if (aside is not null)
        {
            Console.WriteLine($"The old database is kept as {aside}.");
        }

        return 0;
    }

    /// <summary>Null when there was nothing to be kept. What SQLite keeps beside the file goes with it, and first: a new file must never meet an old log.</summary>
    private static string? PutAside(string database, TimeProvider clock)
    {
        string aside = $"{database}.before-{clock.GetUtcNow().UtcDateTime.ToString("yyyyMMdd'T'HHmmssfff'Z'", CultureInfo.InvariantCulture)}";
        foreach (string ending in Beside.Add("").Where(ending => Path.Exists(database + ending)))
        {
            DurableFile.RenameNoReplace(database + ending, aside + ending);
        }

        return Path.Exists(aside) ? aside : null;
    }

    private static void RemoveAll(string database)
    {
        foreach (string ending in Beside.Add(""))
        {
            DurableFile.Delete(database + ending);
        }
    }
}
