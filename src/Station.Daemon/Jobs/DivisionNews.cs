using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Jobs;

/// <summary>
/// Tells in a record's history what a person said about cuts. The decision itself is one transaction of the store; it is told before anything is cut by it,
/// by whoever comes first: the one who took the decision, the stage that divides, or the timed look after a stop.
/// </summary>
internal sealed class DivisionNews(IStationStore store, RecordHistory history, StationFolders folders)
{
    /// <summary>Idempotent.</summary>
    /// <param name="recordId">Null: of every record.</param>
    public async Task TellAsync(string? recordId, CancellationToken cancellationToken)
    {
        foreach (StoredCue cue in await store.OpenCuesAsync(recordId, untoldOnly: true, cancellationToken))
        {
            DurableFile.CreateFolder(folders.RecordArchive(cue.RecordId));
            history.CutsFixed(cue);
            await store.CueToldAsync(cue, cancellationToken);
        }
    }
}
