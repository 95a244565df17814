using System.Collections.Immutable;
using Dapper;
using Microsoft.Data.Sqlite;

namespace Station.Daemon.Jobs.Store;

/// <summary>Where listening copies lie, and whose names and tags may have changed.</summary>
internal sealed partial class SqliteStore
{
    public Task SidePublishedAsync(PublishedCopies side, CancellationToken cancellationToken) => WriteAsync(
        async (connection, transaction) =>
        {
            await connection.ExecuteAsync(
                "INSERT INTO published_sides (record_id, side, job_id, folder, blocks, peak) VALUES (@RecordId, @Side, @job, @Folder, @Blocks, @Peak) "
                + "ON CONFLICT (record_id, side) DO UPDATE SET job_id = excluded.job_id, folder = excluded.folder, blocks = excluded.blocks, peak = excluded.peak",
                new { side.RecordId, side.Side, job = side.Job.Value, side.Folder, side.Blocks, side.Peak }, transaction);
            return await CopiesAreDueAsync(connection, transaction, side.RecordId);
        },
        cancellationToken);

    public Task SideWithdrawnAsync(string recordId, string side, JobId job, CancellationToken cancellationToken) => WriteAsync(
        async (connection, transaction) =>
        {
            int gone = await connection.ExecuteAsync(
                "DELETE FROM published_sides WHERE record_id = @recordId AND side = @side AND job_id = @job", new { recordId, side, job = job.Value }, transaction);
            return gone == 0 ? 0 : await CopiesAreDueAsync(connection, transaction, recordId);
        },
        cancellationToken);

    public Task<ImmutableArray<PublishedCopies>> PublishedSidesAsync(string recordId, CancellationToken cancellationToken) => ReadAsync(async connection =>
    {
        IEnumerable<PublishedRow> rows = await connection.QueryAsync<PublishedRow>(new CommandDefinition(
            "SELECT record_id AS RecordId, side AS Side, job_id AS JobId, folder AS Folder, blocks AS Blocks, peak AS Peak FROM published_sides WHERE record_id = @recordId ORDER BY side",
            new { recordId }, cancellationToken: cancellationToken));
        return rows.Select(r => new PublishedCopies(r.RecordId, r.Side, new JobId(r.JobId), r.Folder, r.Blocks, r.Peak)).ToImmutableArray();
    });

    public Task<ImmutableArray<(string RecordId, long Seen)>> CopiesDueAsync(int limit, CancellationToken cancellationToken) => ReadAsync(async connection =>
    {
        IEnumerable<(string RecordId, long Seen)> rows = await connection.QueryAsync<(string, long)>(new CommandDefinition(
            "SELECT id, copies_due FROM records WHERE copies_due > 0 LIMIT @limit", new { limit }, cancellationToken: cancellationToken));
        return rows.ToImmutableArray();
    });

    public Task CopiesLookedAtAsync(string recordId, long seen, CancellationToken cancellationToken) => WriteAsync(
        (connection, transaction) => connection.ExecuteAsync(
            "UPDATE records SET copies_due = 0 WHERE id = @recordId AND copies_due = @seen", new { recordId, seen }, transaction),
        cancellationToken);

    public Task<Job> PublishAgainAsync(JobId id, CancellationToken cancellationToken) => WriteAsync(
        async (connection, transaction) =>
        {
            Job job = await FindJobAsync(connection, id.Value, transaction) ?? throw new JobNotFoundException(id.Value);
            if (job.State is not JobState.Done)
            {
                throw new JobStateException(id, job.State, "published again");
            }

            await MoveOnAsync(connection, transaction, job, JobState.Queued, "failures = 0, crashes = 0, not_before = 0, reason = NULL, finished_at = NULL");
            await connection.ExecuteAsync(
                "DELETE FROM job_stages WHERE job_id = @id AND name IN @stages",
                new { id = id.Value, stages = new[] { StageNames.Encode, StageNames.Publish } }, transaction);
            return (await FindJobAsync(connection, id.Value, transaction))!;
        },
        cancellationToken);

    private static Task<int> CopiesAreDueAsync(SqliteConnection connection, SqliteTransaction transaction, string recordId) =>
        connection.ExecuteAsync("UPDATE records SET copies_due = copies_due + 1 WHERE id = @recordId", new { recordId }, transaction);

    private sealed class PublishedRow
    {
        public string RecordId { get; set; } = "";

        public string Side { get; set; } = "";

        public string JobId { get; set; } = "";

        public string Folder { get; set; } = "";

        public string Blocks { get; set; } = "";

        public double? Peak { get; set; }
    }
}
