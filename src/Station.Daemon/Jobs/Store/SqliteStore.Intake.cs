using System.Text;
using Dapper;
using Microsoft.Data.Sqlite;

namespace Station.Daemon.Jobs.Store;

internal sealed partial class SqliteStore
{
    public Task<Job> AddCaptureAsync(NewCapture capture, CancellationToken cancellationToken) => WriteAsync(
        async (connection, transaction) =>
        {
            if (await FindJobAsync(connection, capture.JobId.Value, transaction) is { } known)
            {
                return known;
            }

            // Ids that differ in case alone are one record, and one folder in the archive: the first spelling stays.
            long now = Ms(capture.ReceivedAt);
            capture = capture with { RecordId = await SpellingAsync(connection, capture.RecordId, transaction) };
            await EnsureRecordAsync(connection, transaction, capture.RecordId, now);
            long number = await connection.ExecuteScalarAsync<long>(
                $"SELECT {NextCaptureNumber}", new { capture.RecordId, capture.Sides }, transaction);

            CaptureId captureId = CaptureId.New(capture.ReceivedAt);
            await connection.ExecuteAsync(
                "INSERT INTO captures (id, file_name, record_id, sides, part, number, side_assumed, bytes, received_at, location) "
                + "VALUES (@id, @FileName, @RecordId, @Sides, @Part, @number, @assumed, @Bytes, @now, @Location)",
                new
                {
                    id = captureId.Value,
                    capture.FileName,
                    capture.RecordId,
                    capture.Sides,
                    capture.Part,
                    number,
                    assumed = capture.SideAssumed ? 1 : 0,
                    capture.Bytes,
                    now,
                    capture.Location,
                },
                transaction);

            foreach (char side in capture.Sides)
            {
                await AddToTakeAsync(connection, transaction, capture, captureId, side);
            }

            await connection.ExecuteAsync(
                "INSERT INTO jobs (id, kind, state, capture_id, created_at) VALUES (@id, 'capture', 'queued', @captureId, @now)",
                new { id = capture.JobId.Value, captureId = captureId.Value, now }, transaction);
            await connection.ExecuteAsync(
                "INSERT INTO job_stages (job_id, name, outcome, attempt, started_at, ended_at) VALUES (@id, @name, 'done', 0, @now, @now)",
                new { id = capture.JobId.Value, name = StageNames.Intake, now }, transaction);
            return (await FindJobAsync(connection, capture.JobId.Value, transaction))!;
        },
        cancellationToken);

    public Task RenumberAsync(CaptureId id, int number, CancellationToken cancellationToken) => WriteAsync(
        (connection, transaction) => connection.ExecuteAsync(
            "UPDATE captures SET number = max(@number, (SELECT coalesce(max(o.number), 0) + 1 FROM captures o "
            + "WHERE o.record_id = captures.record_id AND o.sides = captures.sides AND o.id <> captures.id)) WHERE id = @id",
            new { number, id = id.Value }, transaction),
        cancellationToken);

    public Task<bool> JobExistsAsync(JobId id, CancellationToken cancellationToken) => ReadAsync(
        connection => connection.ExecuteScalarAsync<bool>(
            new CommandDefinition("SELECT EXISTS (SELECT 1 FROM jobs WHERE id = @id)", new { id = id.Value }, cancellationToken: cancellationToken)));

    public Task<string> SpellingAsync(string recordId, CancellationToken cancellationToken) => ReadAsync(connection => SpellingAsync(connection, recordId));

    public Task SaveSheetAsync(StoredSheet sheet, CancellationToken cancellationToken) => WriteAsync(
        (connection, transaction) => SaveSheetAsync(connection, transaction, sheet), cancellationToken);

    public Task<StoredSheet?> SheetAsync(string recordId, CancellationToken cancellationToken) => ReadAsync(async connection =>
    {
        SheetRow? row = await connection.QuerySingleOrDefaultAsync<SheetRow>(new CommandDefinition(
            "SELECT id AS RecordId, sheet_name AS FileName, sheet_yaml AS Yaml, artist AS Artist, title AS Title, sheet_at AS SheetAt "
            + "FROM records WHERE id = @recordId AND sheet_yaml IS NOT NULL",
            new { recordId }, cancellationToken: cancellationToken));
        return row is null ? null : new StoredSheet(row.RecordId, row.FileName, row.Yaml, row.Artist, row.Title, At(row.SheetAt));
    });

    /// <summary>The number after every label of a record and its sides, those included that captures had before they were filed elsewhere.</summary>
    private const string NextCaptureNumber =
        "(SELECT coalesce(max(n), 0) + 1 FROM (SELECT max(number) AS n FROM captures WHERE record_id = @RecordId AND sides = @Sides UNION ALL "
        + "SELECT max(from_number) FROM identifications WHERE from_record = @RecordId AND from_sides = @Sides))";

    private static async Task<string> SpellingAsync(SqliteConnection connection, string id, SqliteTransaction? transaction = null)
    {
        string? known = await connection.ExecuteScalarAsync<string?>("SELECT id FROM records WHERE id = @id", new { id }, transaction);
        if (known is null && !Ascii.IsValid(id))
        {
            // The database knows the case of ASCII letters alone (sqlite.org/datatype3.html §7; second-hand).
            IEnumerable<string> all = await connection.QueryAsync<string>("SELECT id FROM records", transaction: transaction);
            known = all.FirstOrDefault(other => string.Equals(other, id, StringComparison.OrdinalIgnoreCase));
        }

        return known ?? id;
    }

    private static Task EnsureRecordAsync(SqliteConnection connection, SqliteTransaction transaction, string id, long now) =>
        connection.ExecuteAsync("INSERT INTO records (id, created_at) VALUES (@id, @now) ON CONFLICT DO NOTHING", new { id, now }, transaction);

    private sealed class SheetRow
    {
        public string RecordId { get; set; } = "";

        public string FileName { get; set; } = "";

        public string Yaml { get; set; } = "";

        public string? Artist { get; set; }

        public string? Title { get; set; }

        public long SheetAt { get; set; }
    }
}
