using System.Text.Json;
using Dapper;
using Microsoft.Data.Sqlite;
using Station.Audio.Findings;

namespace Station.Daemon.Jobs.Store;

internal sealed partial class SqliteStore
{
    public Task<Job?> ClaimAsync(string owner, DateTimeOffset now, TimeSpan lease, CancellationToken cancellationToken) => WriteAsync<Job?>(
        async (connection, transaction) =>
        {
            JobRow? row = await connection.QuerySingleOrDefaultAsync<JobRow>(
                "UPDATE jobs SET state = 'running', owner = @owner, lease_until = @until, attempt = attempt + 1 "
                + "WHERE id = (SELECT id FROM jobs WHERE state = 'queued' AND not_before <= @now ORDER BY priority DESC, created_at, id LIMIT 1) "
                + $"RETURNING {JobColumns}",
                new { owner, until = Ms(now + lease), now = Ms(now) }, transaction);
            return row is null ? null : await LoadJobAsync(connection, row, transaction);
        },
        cancellationToken);

    public Task<DateTimeOffset?> NextDueAsync(CancellationToken cancellationToken) => ReadAsync(async connection =>
        At(await connection.ExecuteScalarAsync<long?>(
            new CommandDefinition("SELECT min(not_before) FROM jobs WHERE state = 'queued'", cancellationToken: cancellationToken))));

    public async Task<bool> RenewAsync(Job job, DateTimeOffset leaseUntil, CancellationToken cancellationToken) => await WriteAsync(
        (connection, transaction) => connection.ExecuteAsync(
            "UPDATE jobs SET lease_until = @until WHERE id = @id AND owner = @Owner AND attempt = @Attempt AND state = 'running'",
            new { until = Ms(leaseUntil), id = job.Id.Value, job.Owner, job.Attempt }, transaction),
        cancellationToken) == 1;

    public Task<int> RequeueAbandonedAsync(bool everyOwner, DateTimeOffset now, CancellationToken cancellationToken) => WriteAsync(
        (connection, transaction) => connection.ExecuteAsync(
            "UPDATE jobs SET state = 'queued', owner = NULL, lease_until = NULL, not_before = 0, crashes = crashes + 1 "
            + "WHERE state = 'running' AND (@everyOwner OR lease_until < @now)",
            new { everyOwner, now = Ms(now) }, transaction),
        cancellationToken);

    public Task ReleaseAsync(Job job, CancellationToken cancellationToken) => WriteAsync(
        async (connection, transaction) =>
        {
            await MoveOnAsync(connection, transaction, job, JobState.Queued, "not_before = 0");
            return true;
        },
        cancellationToken);

    public Task<Job> RecordStageAsync(Job job, StageRecord stage, CaptureFacts? facts, Verdict? verdict, CancellationToken cancellationToken) => WriteAsync(
        async (connection, transaction) =>
        {
            await FenceAsync(connection, transaction, job);
            await PutStageAsync(connection, transaction, job, stage);
            await connection.ExecuteAsync(
                "UPDATE jobs SET failures = 0, crashes = 0, reason = NULL, verdict = coalesce(@verdict, verdict) WHERE id = @id",
                new { verdict = verdict is { } v ? Text(v) : null, id = job.Id.Value }, transaction);
            if (facts is not null)
            {
                await connection.ExecuteAsync(
                    "UPDATE captures SET sha256 = coalesce(@Sha256, sha256), frames = coalesce(@Frames, frames), sample_rate = coalesce(@SampleRateHz, sample_rate), "
                    + "bag = coalesce(@Bag, bag), archived_at = coalesce(@archivedAt, archived_at) WHERE id = @id",
                    new
                    {
                        facts.Sha256,
                        facts.Frames,
                        facts.SampleRateHz,
                        facts.Bag,
                        archivedAt = facts.ArchivedAt is { } at ? Ms(at) : (long?)null,
                        id = job.Capture.Id.Value,
                    },
                    transaction);
                if (facts is { Bag: not null, ArchivedAt: { } proved })
                {
                    await ProvedAsync(connection, transaction, job.Capture.Id, CopyPlaces.Archive, facts.TagManifestSha256, proved);
                }

                foreach (SideSpan span in facts.Spans ?? [])
                {
                    await connection.ExecuteAsync(
                        "UPDATE take_spans SET start_frame = @StartFrame, end_frame = @EndFrame WHERE capture_id = @captureId AND take_id = @takeId",
                        new { span.StartFrame, span.EndFrame, captureId = job.Capture.Id.Value, takeId = job.TakeOf(span.Side).Id }, transaction);
                }
            }

            return (await FindJobAsync(connection, job.Id.Value, transaction))!;
        },
        cancellationToken);

    public Task PostponeAsync(Job job, string reason, DateTimeOffset notBefore, CancellationToken cancellationToken) => WriteAsync(
        async (connection, transaction) =>
        {
            await MoveOnAsync(connection, transaction, job, JobState.Queued, "not_before = @notBefore, reason = @reason", new { notBefore = Ms(notBefore), reason });
            return true;
        },
        cancellationToken);

    public Task<Job> ForgetStagesAsync(Job job, IReadOnlyCollection<string> stages, CancellationToken cancellationToken) => WriteAsync(
        async (connection, transaction) =>
        {
            await FenceAsync(connection, transaction, job);
            await connection.ExecuteAsync("DELETE FROM job_stages WHERE job_id = @id AND name IN @stages", new { id = job.Id.Value, stages }, transaction);
            return (await FindJobAsync(connection, job.Id.Value, transaction))!;
        },
        cancellationToken);

    public Task RetryLaterAsync(
        Job job, string stage, string reason, DateTimeOffset notBefore, IReadOnlyCollection<AlertDraft> alerts, CancellationToken cancellationToken) => WriteAsync(
        async (connection, transaction) =>
        {
            long now = Ms(_clock.GetUtcNow());
            await PutStageAsync(connection, transaction, job, new StageRecord(stage, StageOutcomeKind.Retry, job.Attempt, At(now), At(now), null, reason));
            await MoveOnAsync(
                connection, transaction, job, JobState.Queued, "failures = failures + 1, not_before = @notBefore, reason = @reason",
                new { notBefore = Ms(notBefore), reason });
            await AddAlertsAsync(connection, transaction, job.Id, alerts);
            return true;
        },
        cancellationToken);

    public Task<Job> DecideMoveAsync(Job job, PendingMove move, CancellationToken cancellationToken) => WriteAsync(
        async (connection, transaction) =>
        {
            await FenceAsync(connection, transaction, job);
            await connection.ExecuteAsync(
                "UPDATE jobs SET pending_move = @move WHERE id = @id", new { move = JsonSerializer.Serialize(move), id = job.Id.Value }, transaction);
            return (await FindJobAsync(connection, job.Id.Value, transaction))!;
        },
        cancellationToken);

    public Task<Job> MovedAsync(Job job, string location, CancellationToken cancellationToken) => WriteAsync(
        async (connection, transaction) =>
        {
            await FenceAsync(connection, transaction, job);
            await connection.ExecuteAsync("UPDATE jobs SET pending_move = NULL WHERE id = @id", new { id = job.Id.Value }, transaction);
            await connection.ExecuteAsync("UPDATE captures SET location = @location WHERE id = @id", new { location, id = job.Capture.Id.Value }, transaction);
            return (await FindJobAsync(connection, job.Id.Value, transaction))!;
        },
        cancellationToken);

    public Task<Job> FinishAsync(Job job, JobState state, string? reason, IReadOnlyCollection<AlertDraft> alerts, CancellationToken cancellationToken) => WriteAsync(
        async (connection, transaction) =>
        {
            long now = Ms(_clock.GetUtcNow());
            await MoveOnAsync(
                connection, transaction, job, state, "reason = @reason, finished_at = @finished",
                new { reason, finished = JobTransitions.IsTerminal(state) ? now : (long?)null });
            switch (state)
            {
                case JobState.Done when job.Leads:
                    await AcceptTakesAsync(connection, transaction, job, now);
                    await WakePartsAsync(connection, transaction, job);
                    break;
                case JobState.Refused or JobState.Duplicate:
                    await LeaveTakesAsync(connection, transaction, job, TakeState.Void, reason, now);
                    break;
                case JobState.Held:
                    await WakeStaleLeadAsync(connection, transaction, job);
                    break;
                default:
                    break;
            }

            await AddAlertsAsync(connection, transaction, job.Id, alerts);
            return (await FindJobAsync(connection, job.Id.Value, transaction))!;
        },
        cancellationToken);

    /// <summary>
    /// The takes in this capture become current, one of each side; the ones that were, older ones that are open, and older held jobs are superseded.
    /// A newer take that was accepted meanwhile stays current, unless the operator accepted this one after it.
    /// </summary>
    private static async Task AcceptTakesAsync(SqliteConnection connection, SqliteTransaction transaction, Job job, long now)
    {
        foreach (Take take in job.CurrentTakes)
        {
            await DecideTakeAsync(connection, transaction, take, TakeState.Accepted, job.AcceptedWhy, now);
            int beaten = await connection.ExecuteAsync(
                "UPDATE takes SET state = 'superseded' WHERE id = @Id AND EXISTS (SELECT 1 FROM takes newer WHERE newer.record_id = @RecordId AND newer.side = @Side "
                + "AND newer.number > @Number AND newer.state = 'accepted' AND (@acceptedAt IS NULL OR newer.decided_at > @acceptedAt))",
                new { take.Id, take.RecordId, take.Side, take.Number, acceptedAt = job.AcceptedAt is { } at ? Ms(at) : (long?)null }, transaction);
            if (beaten > 0)
            {
                continue;
            }

            await connection.ExecuteAsync(
                "UPDATE takes SET state = 'superseded', decided_at = @now WHERE record_id = @RecordId AND side = @Side AND id <> @Id "
                + "AND (state = 'accepted' OR (state = 'pending' AND number < @Number))",
                new { now, take.Id, take.RecordId, take.Side, take.Number }, transaction);
            await connection.ExecuteAsync(
                "UPDATE jobs SET state = 'superseded', finished_at = @now WHERE state = 'held' AND id <> @job AND capture_id IN "
                + "(SELECT s.capture_id FROM take_spans s JOIN takes t ON t.id = s.take_id WHERE t.record_id = @RecordId AND t.side = @Side AND t.number < @Number) "
                + "AND capture_id NOT IN (SELECT s.capture_id FROM take_spans s JOIN takes t ON t.id = s.take_id WHERE t.record_id = @RecordId AND t.side = @Side "
                + "AND t.number >= @Number AND t.state NOT IN ('void', 'discarded'))",
                new { now, job = job.Id.Value, take.RecordId, take.Side, take.Number }, transaction);
        }
    }

    private static Task<int> PutStageAsync(SqliteConnection connection, SqliteTransaction transaction, Job job, StageRecord stage) =>
        connection.ExecuteAsync(
            "INSERT INTO job_stages (job_id, name, outcome, attempt, started_at, ended_at, result, reason) "
            + "VALUES (@id, @Name, @outcome, @Attempt, @started, @ended, @Result, @Reason) "
            + "ON CONFLICT (job_id, name) DO UPDATE SET outcome = excluded.outcome, attempt = excluded.attempt, started_at = excluded.started_at, "
            + "ended_at = excluded.ended_at, result = excluded.result, reason = excluded.reason",
            new
            {
                id = job.Id.Value,
                stage.Name,
                outcome = Text(stage.Outcome),
                stage.Attempt,
                started = Ms(stage.StartedAt),
                ended = Ms(stage.EndedAt),
                stage.Result,
                stage.Reason,
            },
            transaction);

    /// <summary>The one statement that changes a job's state. Fenced while running: no row means the claim is lost.</summary>
    private static async Task MoveOnAsync(
        SqliteConnection connection, SqliteTransaction transaction, Job job, JobState to, string assignments, object? values = null)
    {
        if (!JobTransitions.Allows(job.State, to))
        {
            throw new JobStateException(job.Id, job.State, $"made {to.ToString().ToLowerInvariant()}");
        }

        var parameters = new DynamicParameters(values);
        parameters.Add("id", job.Id.Value);
        parameters.Add("from", Text(job.State));
        parameters.Add("to", Text(to));
        parameters.Add("owner", job.Owner);
        parameters.Add("attempt", job.Attempt);
        int rows = await connection.ExecuteAsync(
            $"UPDATE jobs SET state = @to, owner = NULL, lease_until = NULL, {assignments} "
            + "WHERE id = @id AND state = @from AND owner IS @owner AND attempt = @attempt",
            parameters, transaction);
        if (rows != 1)
        {
            throw new LostLeaseException(job.Id);
        }
    }

    private static async Task FenceAsync(SqliteConnection connection, SqliteTransaction transaction, Job job)
    {
        bool holds = await connection.ExecuteScalarAsync<bool>(
            "SELECT EXISTS (SELECT 1 FROM jobs WHERE id = @id AND state = 'running' AND owner = @Owner AND attempt = @Attempt)",
            new { id = job.Id.Value, job.Owner, job.Attempt }, transaction);
        if (!holds)
        {
            throw new LostLeaseException(job.Id);
        }
    }
}
