using Microsoft.Extensions.Logging;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Jobs;

/// <summary>
/// Tells in a record's history what a person said about cuts. The decision itself is one transaction of the store; it is told before anything is cut by it,
/// by whoever comes first: the one who took the decision, the stage that divides, or the timed look after a stop.
/// </summary>
internal sealed class DivisionNews(IStationStore store, RecordHistory history, StationFolders folders, ILogger<DivisionNews> log)
{
    /// <summary>Tells what isn't told yet of a record. Idempotent.</summary>
    public async Task TellAsync(string recordId, CancellationToken cancellationToken)
    {
        foreach (StoredCue cue in await store.OpenCuesAsync(recordId, untoldOnly: true, cancellationToken))
        {
            await TellAsync(cue, cancellationToken);
        }
    }

    /// <summary>Tells what isn't told yet of every record: after a stop. One whose history can't be written is tried again later and keeps nobody else's waiting.</summary>
    public async Task TellAllAsync(CancellationToken cancellationToken)
    {
        foreach (StoredCue cue in await store.OpenCuesAsync(recordId: null, untoldOnly: true, cancellationToken))
        {
            try
            {
                await TellAsync(cue, cancellationToken);
            }
            catch (Exception error) when (error is IOException or UnauthorizedAccessException or InvalidDataException)
            {
                log.CutsNotTold(cue.RecordId, cue.Side, error.Message);
            }
        }
    }

    private async Task TellAsync(StoredCue cue, CancellationToken cancellationToken)
    {
        folders.MakeRecordArchive(cue.RecordId);
        history.CutsFixed(cue);
        await store.CueToldAsync(cue, cancellationToken);
    }
}
