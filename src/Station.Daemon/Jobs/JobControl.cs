using Microsoft.Extensions.Logging;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Jobs;

/// <summary>What an operator may decide about a take, for the HTTP endpoint and for the commands alike.</summary>
internal sealed class JobControl(IStationStore store, RecordHistory history, StationFolders folders, JobSignal signal, ILogger<JobControl> log)
{
    /// <summary>Finds a job by its id or by what people call its capture (<c>HL-0031-B-c1</c>).</summary>
    /// <exception cref="JobNotFoundException">Neither is known.</exception>
    public async Task<Job> FindAsync(string idOrLabel, CancellationToken cancellationToken) =>
        await store.JobAsync(new JobId(idOrLabel), cancellationToken)
        ?? await store.JobByLabelAsync(idOrLabel, cancellationToken)
        ?? throw new JobNotFoundException(idOrLabel);

    /// <summary>Accepts a held take as it is. A retake is archived and published like any other from here on.</summary>
    /// <param name="why">Kept with the take and offered to later ones; not empty.</param>
    /// <exception cref="JobStateException">The job is not held.</exception>
    public async Task<Job> AcceptAsync(string idOrLabel, string why, CancellationToken cancellationToken)
    {
        ArgumentException.ThrowIfNullOrWhiteSpace(why);
        Job job = await store.AcceptAsync((await FindAsync(idOrLabel, cancellationToken)).Id, why.Trim(), cancellationToken);
        log.Accepted(job.Capture.Label, why);
        signal.Raise();
        return job;
    }

    /// <summary>Tries a held or set-aside job again.</summary>
    /// <exception cref="JobStateException">The job is neither held nor set aside.</exception>
    public async Task<Job> RetryAsync(string idOrLabel, CancellationToken cancellationToken)
    {
        Job job = await store.RetryAsync((await FindAsync(idOrLabel, cancellationToken)).Id, cancellationToken);
        log.Retried(job.Capture.Label);
        signal.Raise();
        return job;
    }

    /// <summary>
    /// Throws a held take away: its files go to held/discarded/ and stay there for <see cref="JobsOptions.DiscardedDays"/>. A bag is
    /// never removed.
    /// </summary>
    /// <exception cref="JobStateException">The job is not held, superseded or set aside.</exception>
    public async Task<Job> DiscardAsync(string idOrLabel, string? why, CancellationToken cancellationToken)
    {
        Job found = await FindAsync(idOrLabel, cancellationToken);
        Job job = await store.DiscardAsync(found.Id, why, cancellationToken);
        log.Discarded(job.Capture.Label, why);
        await FinishDiscardAsync(job, cancellationToken);
        return job;
    }

    /// <summary>Moves what a discarded take left behind. Idempotent: run again at start for discards that a stop cut short.</summary>
    public async Task FinishDiscardAsync(Job job, CancellationToken cancellationToken)
    {
        string held = folders.HeldFolder(job.Capture.Label);
        string discarded = Path.Combine(folders.Discarded, job.Capture.Label);
        if (Directory.Exists(held))
        {
            DurableFile.RenameNoReplace(held, discarded);
        }

        // Without a bag no history tells of it: what is kept in the folder says why. A kill in the middle of writing it left a part of it under another name.
        string why = Path.Combine(discarded, StationFolders.DiscardedText);
        if (job.Reason is not null && Directory.Exists(discarded) && !File.Exists(why))
        {
            foreach (string unfinished in Directory.EnumerateFiles(discarded).Where(path => DurableFile.IsTemporaryName(Path.GetFileName(path))).ToArray())
            {
                DurableFile.Delete(unfinished);
            }

            DurableFile.Replace(why, System.Text.Encoding.UTF8.GetBytes(job.Reason + "\n"));
        }

        if (job.Capture.Location.Length > 0 && Directory.Exists(discarded))
        {
            string now = Path.Combine(discarded, Path.GetFileName(job.Capture.Location));
            if (File.Exists(now))
            {
                await store.RelocateAsync(job.Capture.Id, folders.Relative(now), cancellationToken);
            }
        }

        history.Discarded(job);
    }
}
