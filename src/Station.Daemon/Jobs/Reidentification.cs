using Microsoft.Extensions.Logging;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Jobs;

/// <summary>
/// Files a capture under the name it should have had. The decision is one transaction of the store; everything on the disk follows from it
/// and is done again by the next run of the job where a stop came between: the events, what lay under the old label, the tracks, the listening
/// copies. The bag is never touched.
/// </summary>
internal sealed class Reidentification(
    IStationStore store, JobControl control, RecordHistory history, StationFolders folders, JobSignal signal, ILogger<Reidentification> log)
{
    private static readonly string[] HeldFiles = ["report.json", "reason.txt", "picture.svg"];

    /// <summary>Files a capture that is held, set aside, superseded or done as <paramref name="target"/> says.</summary>
    /// <param name="target">A capture's name without its ending, such as <c>HL-0032-B</c>.</param>
    /// <exception cref="IdentityException"><paramref name="target"/> is no name, or the capture can't be filed so.</exception>
    /// <exception cref="JobNotFoundException">No such job or capture.</exception>
    /// <exception cref="JobStateException">The job is worked on, or the capture came to nothing.</exception>
    public async Task<Job> IdentifyAsync(string idOrLabel, string target, CancellationToken cancellationToken)
    {
        var wanted = FiledAs.Parse(target);
        Job before = await control.FindAsync(idOrLabel, cancellationToken);
        Job job = await store.IdentifyAsync(before.Id, wanted, cancellationToken);
        log.Identified(before.Capture.Label, before.Capture.Filed.Text, job.Capture.Filed.Text, job.Capture.Label);
        await TellAsync(job, cancellationToken);
        signal.Raise();
        return job;
    }

    /// <summary>
    /// Does what has to be done at once, or by the stage that runs first afterwards: tells the events, and clears away what lies under a label
    /// that is no longer the capture's. Idempotent.
    /// </summary>
    public async Task TellAsync(Job job, CancellationToken cancellationToken)
    {
        foreach (Identification identification in await store.IdentificationsAsync(job.Id, openOnly: true, cancellationToken))
        {
            history.Identified(job, identification);
            if (identification.FromLabel != job.Capture.Label && ClearOldLabel(job, identification))
            {
                // No bag held it, so nothing of it was published: the new label is all there is.
                await store.IdentificationFinishedAsync(identification.Id, cancellationToken);
            }
        }
    }

    /// <summary>True when nothing is left under the old label; false while the dropped file itself still lies there.</summary>
    private bool ClearOldLabel(Job job, Identification identification)
    {
        string held = folders.HeldFolder(identification.FromLabel);
        if (job.Capture.Location.Length > 0 && folders.Absolute(job.Capture.Location).StartsWith(held + Path.DirectorySeparatorChar, StringComparison.Ordinal))
        {
            return false;
        }

        if (Directory.Exists(held))
        {
            foreach (string file in HeldFiles.Select(name => Path.Combine(held, name)).Where(File.Exists))
            {
                DurableFile.Delete(file);
            }

            if (!Directory.EnumerateFileSystemEntries(held).Any())
            {
                DurableFile.DeleteFolder(held);
            }
        }

        foreach (string extension in new[] { ".json", ".svg" })
        {
            string report = Path.Combine(folders.Reports, $"{identification.FromLabel}-{job.Id}{extension}");
            if (File.Exists(report))
            {
                DurableFile.Delete(report);
            }
        }

        return true;
    }
}
