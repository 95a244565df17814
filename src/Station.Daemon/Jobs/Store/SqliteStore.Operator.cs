using Dapper;
using Microsoft.Data.Sqlite;

namespace Station.Daemon.Jobs.Store;

internal sealed partial class SqliteStore
{
    public Task<Job> AcceptAsync(JobId id, string why, CancellationToken cancellationToken) => DecideAsync(
        id, JobState.Queued, "accepted",
        async (connection, transaction, job, now) =>
        {
            foreach (Job part in await DecidedTogetherAsync(connection, transaction, job, "accepted"))
            {
                await MoveOnAsync(
                    connection, transaction, part, JobState.Queued,
                    "accepted_at = @now, accepted_why = @why, failures = 0, crashes = 0, not_before = 0, reason = NULL, finished_at = NULL", new { now, why });
            }
        },
        cancellationToken,
        except: JobState.Failed);

    public Task<Job> RetryAsync(JobId id, CancellationToken cancellationToken) => DecideAsync(
        id, JobState.Queued, "tried again",
        async (connection, transaction, job, _) =>
        {
            await MoveOnAsync(connection, transaction, job, JobState.Queued, "failures = 0, crashes = 0, not_before = 0, reason = NULL, finished_at = NULL");
            if (job.Capture.ArchivedAt is null)
            {
                // Nothing but the file itself is trusted: it is judged again from the start.
                await connection.ExecuteAsync(
                    "DELETE FROM job_stages WHERE job_id = @id AND name <> 'intake'", new { id = job.Id.Value }, transaction);
                await connection.ExecuteAsync("UPDATE jobs SET verdict = NULL WHERE id = @id", new { id = job.Id.Value }, transaction);
            }
        },
        cancellationToken);

    public Task<Job> DiscardAsync(JobId id, string? why, CancellationToken cancellationToken) => DecideAsync(
        id, JobState.Discarded, "discarded",
        async (connection, transaction, job, now) =>
        {
            if (job.Parts is { } parts && parts.Lead.JobId != job.Id && parts.Lead.IsAtWork)
            {
                throw new JobStateException(parts.Lead.JobId, parts.Lead.State, "left without one of its parts");
            }

            if (job.CurrentTakes.Any(t => t.State == TakeState.Accepted))
            {
                // It is only divided anew; its copies are published.
                throw new JobStateException(id, job.State, "discarded while its take is in force: accept it, or play the side again");
            }

            await MoveOnAsync(connection, transaction, job, JobState.Discarded, "reason = @why, finished_at = @now", new { why, now });
            await LeaveTakesAsync(connection, transaction, job, TakeState.Discarded, why, now);
        },
        cancellationToken);

    public Task RelocateAsync(CaptureId id, string location, CancellationToken cancellationToken) => WriteAsync(
        (connection, transaction) => connection.ExecuteAsync(
            "UPDATE captures SET location = @location WHERE id = @id", new { location, id = id.Value }, transaction),
        cancellationToken);

    private Task<Job> DecideAsync(
        JobId id, JobState to, string wanted, Func<SqliteConnection, SqliteTransaction, Job, long, Task> decide, CancellationToken cancellationToken,
        JobState? except = null) =>
        WriteAsync(
            async (connection, transaction) =>
            {
                Job job = await FindJobAsync(connection, id.Value, transaction) ?? throw new JobNotFoundException(id.Value);
                if (job.State is JobState.Running or JobState.Queued or JobState.Done || job.State == except || !JobTransitions.Allows(job.State, to))
                {
                    throw new JobStateException(id, job.State, wanted);
                }

                await decide(connection, transaction, job, Ms(_clock.GetUtcNow()));
                return (await FindJobAsync(connection, id.Value, transaction))!;
            },
            cancellationToken);
}
