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
        async (connection, transaction) =>
        {
            await EnsureRecordAsync(connection, transaction, sheet.RecordId, Ms(sheet.At));
            return await connection.ExecuteAsync(
                "UPDATE records SET artist = @Artist, title = @Title, sheet_name = @FileName, sheet_yaml = @Yaml, sheet_at = @at WHERE id = @RecordId",
                new { sheet.Artist, sheet.Title, sheet.FileName, sheet.Yaml, at = Ms(sheet.At), sheet.RecordId }, transaction);
        },
        cancellationToken);

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

    /// <summary>A later part continues the side's newest take while that one is open; everything else is the side's next take.</summary>
    private static async Task AddToTakeAsync(SqliteConnection connection, SqliteTransaction transaction, NewCapture capture, CaptureId captureId, char side)
    {
        string sideText = side.ToString();
        string? takeId = null;
        if (capture.Part > 1)
        {
            takeId = await connection.QuerySingleOrDefaultAsync<string>(
                "SELECT id FROM takes WHERE record_id = @RecordId AND side = @sideText AND state = 'pending' ORDER BY number DESC LIMIT 1",
                new { capture.RecordId, sideText }, transaction);
        }

        if (takeId is null)
        {
            takeId = Guid.CreateVersion7(capture.ReceivedAt).ToString("D");
            await connection.ExecuteAsync(
                "INSERT INTO takes (id, record_id, side, number, state) VALUES (@takeId, @RecordId, @sideText, "
                + "(SELECT coalesce(max(number), 0) + 1 FROM takes WHERE record_id = @RecordId AND side = @sideText), 'pending')",
                new { takeId, capture.RecordId, sideText }, transaction);
        }

        await connection.ExecuteAsync(
            "INSERT INTO take_spans (take_id, ordinal, capture_id, start_frame) VALUES (@takeId, "
            + "(SELECT coalesce(max(ordinal), 0) + 1 FROM take_spans WHERE take_id = @takeId), @captureId, 0)",
            new { takeId, captureId = captureId.Value }, transaction);
    }

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
