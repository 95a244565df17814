using System.Collections.Immutable;
using Dapper;
using Microsoft.Data.Sqlite;

namespace Station.Daemon.Jobs.Store;

internal sealed partial class SqliteStore
{
    public Task SaveSheetsAsync(ImmutableArray<StoredSheet> sheets, CancellationToken cancellationToken) => WriteAsync(
        async (connection, transaction) =>
        {
            foreach (StoredSheet sheet in sheets)
            {
                await SaveSheetAsync(connection, transaction, sheet);
            }

            return sheets.Length;
        },
        cancellationToken);

    public Task SaveSleeveAsync(StoredSleeve sleeve, CancellationToken cancellationToken) => WriteAsync(
        async (connection, transaction) =>
        {
            await EnsureRecordAsync(connection, transaction, sleeve.RecordId, Ms(sleeve.At));
            await CopiesAreDueAsync(connection, transaction, sleeve.RecordId);
            return await PutSleeveAsync(connection, transaction, sleeve);
        },
        cancellationToken);

    public Task<StoredSleeve?> SleeveAsync(string recordId, CancellationToken cancellationToken) => ReadAsync(async connection =>
    {
        SleeveRow? row = await connection.QuerySingleOrDefaultAsync<SleeveRow>(new CommandDefinition(
            "SELECT record_id AS RecordId, file_name AS FileName, path AS Path, sha256 AS Sha256, bytes AS Bytes, media_type AS MediaType, "
            + "width_pixels AS WidthPixels, height_pixels AS HeightPixels, received_at AS ReceivedAt FROM sleeves WHERE record_id = @recordId",
            new { recordId }, cancellationToken: cancellationToken));
        return row is null ? null : new StoredSleeve(
            row.RecordId, row.FileName, row.Path, row.Sha256, row.Bytes, row.MediaType, (int)row.WidthPixels, (int)row.HeightPixels, At(row.ReceivedAt));
    });

    public Task<Job> DivideAgainAsync(JobId id, CancellationToken cancellationToken) => WriteAsync(
        async (connection, transaction) =>
        {
            Job job = await FindJobAsync(connection, id.Value, transaction) ?? throw new JobNotFoundException(id.Value);
            if (job.State is not (JobState.Held or JobState.Done))
            {
                throw new JobStateException(id, job.State, "divided again");
            }

            await MoveOnAsync(connection, transaction, job, JobState.Queued, "verdict = NULL, failures = 0, crashes = 0, not_before = 0, reason = NULL, finished_at = NULL");
            await connection.ExecuteAsync(
                "DELETE FROM job_stages WHERE job_id = @id AND name IN @stages",
                new { id = id.Value, stages = new[] { StageNames.Divide, StageNames.Encode, StageNames.Publish } }, transaction);
            return (await FindJobAsync(connection, id.Value, transaction))!;
        },
        cancellationToken);

    private static Task<int> PutSleeveAsync(SqliteConnection connection, SqliteTransaction transaction, StoredSleeve sleeve) => connection.ExecuteAsync(
        "INSERT INTO sleeves (record_id, file_name, path, sha256, bytes, media_type, width_pixels, height_pixels, received_at) "
        + "VALUES (@RecordId, @FileName, @Path, @Sha256, @Bytes, @MediaType, @WidthPixels, @HeightPixels, @at) "
        + "ON CONFLICT (record_id) DO UPDATE SET file_name = excluded.file_name, path = excluded.path, sha256 = excluded.sha256, bytes = excluded.bytes, "
        + "media_type = excluded.media_type, width_pixels = excluded.width_pixels, height_pixels = excluded.height_pixels, received_at = excluded.received_at",
        new
        {
            sleeve.RecordId,
            sleeve.FileName,
            sleeve.Path,
            sleeve.Sha256,
            sleeve.Bytes,
            sleeve.MediaType,
            sleeve.WidthPixels,
            sleeve.HeightPixels,
            at = Ms(sleeve.At),
        },
        transaction);

    private static async Task<int> SaveSheetAsync(SqliteConnection connection, SqliteTransaction transaction, StoredSheet sheet)
    {
        await EnsureRecordAsync(connection, transaction, sheet.RecordId, Ms(sheet.At));
        return await connection.ExecuteAsync(
            "UPDATE records SET artist = @Artist, title = @Title, sheet_name = @FileName, sheet_yaml = @Yaml, sheet_at = @at, copies_due = copies_due + 1 WHERE id = @RecordId",
            new { sheet.Artist, sheet.Title, sheet.FileName, sheet.Yaml, at = Ms(sheet.At), sheet.RecordId }, transaction);
    }

    private sealed class SleeveRow
    {
        public string RecordId { get; set; } = "";

        public string FileName { get; set; } = "";

        public string Path { get; set; } = "";

        public string Sha256 { get; set; } = "";

        public long Bytes { get; set; }

        public string MediaType { get; set; } = "";

        public long WidthPixels { get; set; }

        public long HeightPixels { get; set; }

        public long ReceivedAt { get; set; }
    }
}
