using Microsoft.Extensions.Logging;
using Station.Archive.Copies;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Jobs;

/// <summary>
/// The marker of the archive's root. A new archive gets it at the first start, one of before there were markers at the next one: when a bag the database knows lies there.
/// A root without any of them is taken for a bare mount point, and nothing is written to it.
/// </summary>
internal sealed class ArchiveRoot(StationFolders folders, IStationStore store, TimeProvider clock, ILogger<ArchiveRoot> log)
{
    /// <summary>So many of the newest bags are looked for: some may be lost or damaged.</summary>
    private const int BagsLookedFor = 20;

    /// <summary>Under the instance lock, before anything else is done with the archive.</summary>
    /// <exception cref="InvalidDataException">The folder is marked as something else, or as the archive of another station: the service must not start.</exception>
    /// <exception cref="IOException">It can't be made or marked.</exception>
    public async Task OpenAsync(CancellationToken cancellationToken)
    {
        Guid? known = await store.ArchiveMarkerAsync(cancellationToken);
        CopiesMarker? marker = CopiesMarker.TryRead(folders.Archive);
        if (marker is null)
        {
            IReadOnlyList<string> bags = await store.NewestBagsAsync(BagsLookedFor, cancellationToken);
            if (known is not null || (bags.Count > 0 && !bags.Any(bag => Directory.Exists(folders.Absolute(bag)))))
            {
                log.ArchiveAway(folders.WhyNoArchive() ?? $"{folders.Archive} holds none of the bags the database knows.");
                return;
            }
        }

        marker = folders.CreateArchive(clock.GetUtcNow());
        if (known is { } id && id != marker.Id)
        {
            throw new InvalidDataException(
                $"{PathText.Printable(folders.Archive)} is marked as the archive {marker.Id}, prepared {marker.PreparedAt:yyyy-MM-dd}; this station's is {id}. "
                + "Mount the right one, or say that this one is to be it from now on: stationd archive prepare.");
        }

        await store.NoteArchiveMarkerAsync(marker.Id, clock.GetUtcNow(), cancellationToken);
    }

    /// <summary>A person says that this folder is the archive, whatever is known.</summary>
    /// <exception cref="InvalidDataException">The folder is marked as a replica.</exception>
    public async Task<CopiesMarker> PrepareAsync(CancellationToken cancellationToken)
    {
        CopiesMarker marker = CopiesMarker.Prepare(folders.Archive, StationFolders.ArchiveMarkerName, clock.GetUtcNow());
        await store.NoteArchiveMarkerAsync(marker.Id, clock.GetUtcNow(), cancellationToken);
        return marker;
    }
}
