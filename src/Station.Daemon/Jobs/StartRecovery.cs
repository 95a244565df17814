using Microsoft.Extensions.Logging;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Jobs;

/// <summary>
/// What a start puts right, under the instance lock and before anything runs: unfinished jobs are queued again, discards that a stop
/// cut short are finished, takes whose cuts a person fixed are queued to be cut, and what half-written files were left behind is removed. Nothing here touches a dropped file except to
/// finish a move that was decided.
/// </summary>
internal sealed class StartRecovery(IStationStore store, JobControl control, LateGuides late, StationFolders folders, TimeProvider clock, ILogger<StartRecovery> log)
{
    public async Task RunAsync(CancellationToken cancellationToken)
    {
        int count = await store.RequeueAbandonedAsync(everyOwner: true, clock.GetUtcNow(), cancellationToken);
        if (count > 0)
        {
            log.Requeued(count);
        }

        await FinishHeldFoldersAsync(cancellationToken);
        await RemoveLeftWorkingFoldersAsync(cancellationToken);
        RemoveTemporaryFiles();
        await late.LookAtOpenAsync(cancellationToken);
    }

    private async Task FinishHeldFoldersAsync(CancellationToken cancellationToken)
    {
        // Those not moved yet, and those moved whose new place was not recorded.
        foreach (string folder in Directory.EnumerateDirectories(folders.Held).Where(f => f != folders.Discarded).Concat(Directory.EnumerateDirectories(folders.Discarded)).ToArray())
        {
            if (await store.JobByLabelAsync(Path.GetFileName(folder), cancellationToken) is { State: JobState.Discarded } job)
            {
                await control.FinishDiscardAsync(job, cancellationToken);
            }
        }
    }

    /// <summary>
    /// Working folders of jobs that have ended: a stop between the removal of the dropped file and of its folder leaves one, which nobody would look at again. One with
    /// a file where the dropped one belongs stays.
    /// </summary>
    private async Task RemoveLeftWorkingFoldersAsync(CancellationToken cancellationToken)
    {
        foreach (string folder in Directory.EnumerateDirectories(folders.Working).Where(f => !FileSystemFolders.IsOwn(f)).ToArray())
        {
            string capture = Path.Combine(folder, "capture");
            if (await store.JobAsync(new JobId(Path.GetFileName(folder)), cancellationToken) is { PendingMove: null, State: not (JobState.Queued or JobState.Running) }
                && !(Path.Exists(capture) && Directory.EnumerateFileSystemEntries(capture).Any()))
            {
                DurableFile.DeleteFolder(folder);
            }
        }
    }

    private void RemoveTemporaryFiles()
    {
        foreach (string folder in new[] { folders.Reports, folders.Refused, folders.Archive, folders.Listening, folders.Held, folders.Discarded }
            .Concat(Directory.Exists(folders.Archive) ? Directory.EnumerateDirectories(folders.Archive) : [])
            .Concat(Directory.EnumerateDirectories(folders.Held))
            .Where(f => !FileSystemFolders.IsOwn(f) && Directory.Exists(f)))
        {
            foreach (string path in Directory.EnumerateFileSystemEntries(folder).Where(f => DurableFile.IsTemporaryName(Path.GetFileName(f))).ToArray())
            {
                if (Directory.Exists(path))
                {
                    DurableFile.DeleteFolder(path);
                }
                else
                {
                    DurableFile.Delete(path);
                }
            }
        }
    }
}
