using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;

namespace Station.Daemon.Listening;

/// <summary>
/// Takes the listening copies of a capture out of where they were before a person filed it elsewhere: once its copies are in their new place, or
/// none will come. Files that another take has put in their place, or that somebody changed, stay.
/// </summary>
internal sealed class FormerCopies(ListeningPublisher publisher, IStationStore store)
{
    /// <summary>Idempotent.</summary>
    public async Task WithdrawAsync(Job job, CancellationToken cancellationToken)
    {
        foreach (Identification moved in await store.IdentificationsAsync(job.Id, openOnly: true, cancellationToken))
        {
            bool sameRecord = string.Equals(moved.From.RecordId, job.Capture.RecordId, StringComparison.OrdinalIgnoreCase);
            SideLetter[] left = [.. moved.From.Sides.Where(side => !sameRecord || !job.Capture.Sides.Contains(side, StringComparison.Ordinal)).Select(SideLetter.Of)];
            foreach (SideLetter side in left)
            {
                publisher.WithdrawOf(ListeningPaths.PublicationId(job.Id.Value, moved.From.Sides, side.ToString()), RecordId.Parse(moved.From.RecordId), [side]);
                await store.SideWithdrawnAsync(moved.From.RecordId, side.ToString(), job.Id, cancellationToken);
            }

            await store.IdentificationFinishedAsync(moved.Id, cancellationToken);
        }
    }
}
