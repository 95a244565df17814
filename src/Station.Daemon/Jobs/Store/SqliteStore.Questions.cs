using System.Collections.Immutable;
using Dapper;

namespace Station.Daemon.Jobs.Store;

internal sealed partial class SqliteStore
{
    public Task<Job?> JobAsync(JobId id, CancellationToken cancellationToken) => ReadAsync(connection => FindJobAsync(connection, id.Value, transaction: null));

    public Task<Job?> JobByLabelAsync(string label, CancellationToken cancellationToken) => ReadAsync(async connection =>
    {
        JobRow? row = await connection.QueryFirstOrDefaultAsync<JobRow>(new CommandDefinition(
            $"SELECT {JobColumns} FROM jobs WHERE capture_id IN (SELECT id FROM captures WHERE record_id || '-' || sides || '-c' || number = @label COLLATE NOCASE "
            + "UNION ALL SELECT capture_id FROM identifications WHERE from_label = @label COLLATE NOCASE) ORDER BY created_at DESC LIMIT 1",
            new { label }, cancellationToken: cancellationToken));
        return row is null ? null : await LoadJobAsync(connection, row, transaction: null);
    });

    public Task<ImmutableArray<Job>> JobsAsync(JobQuery query, CancellationToken cancellationToken) => ReadAsync(async connection =>
    {
        // Only what is asked for stands in the statement, since an index serves no condition that may be off; + keeps an index out: a record's jobs are found by
        // its captures, all others by their age.
        string record = query.RecordId is null
            ? ""
            : " AND capture_id IN (SELECT id FROM captures WHERE (record_id = @RecordId AND filed_record IS NULL) OR (filed_record IS NOT NULL AND filed_record = @RecordId))";
        string state = query.State is null ? "" : " AND +state = @state";
        IEnumerable<JobRow> rows = await connection.QueryAsync<JobRow>(new CommandDefinition(
            $"SELECT {JobColumns} FROM jobs WHERE (@before IS NULL OR id < @before){state}{record} ORDER BY {(query.RecordId is null ? "id" : "+id")} DESC LIMIT @limit",
            new { before = query.Before?.Value, state = query.State is { } s ? Text(s) : null, query.RecordId, limit = Math.Clamp(query.Limit, 1, 500) },
            cancellationToken: cancellationToken));
        return await LoadAllAsync(connection, rows);
    });

    public Task<ImmutableArray<Capture>> CapturesWithBytesAsync(string sha256, CaptureId except, CancellationToken cancellationToken) => ReadAsync(async connection =>
        (await connection.QueryAsync<CaptureRow>(new CommandDefinition(
            $"SELECT {CaptureColumns} FROM captures WHERE sha256 = @sha256 AND id <> @except ORDER BY received_at, id",
            new { sha256, except = except.Value }, cancellationToken: cancellationToken))).Select(r => r.ToCapture()).ToImmutableArray());

    public Task<ImmutableDictionary<JobState, int>> CountJobsAsync(CancellationToken cancellationToken) => ReadAsync(async connection =>
        (await connection.QueryAsync<(string State, long Count)>(
            new CommandDefinition("SELECT state, count(*) FROM jobs GROUP BY state", cancellationToken: cancellationToken)))
        .ToImmutableDictionary(r => Parse<JobState>(r.State), r => (int)r.Count));

    public Task<ImmutableArray<RecordSummary>> RecordsAsync(string? afterId, int limit, CancellationToken cancellationToken) => ReadAsync(async connection =>
    {
        List<RecordRow> records = (await connection.QueryAsync<RecordRow>(new CommandDefinition(
            "SELECT id AS Id, artist AS Artist, title AS Title, sheet_yaml IS NOT NULL AS HasSheet FROM records WHERE (@afterId IS NULL OR id > @afterId) ORDER BY id LIMIT @limit",
            new { afterId, limit = Math.Clamp(limit, 1, 500) }, cancellationToken: cancellationToken))).AsList();
        ILookup<string, SideRow> sides = (await connection.QueryAsync<SideRow>(new CommandDefinition(
            "SELECT record_id AS RecordId, side AS Side, number AS Number, state AS State FROM takes WHERE record_id IN @ids AND state <> 'void' ORDER BY side, number",
            new { ids = records.ConvertAll(r => r.Id) }, cancellationToken: cancellationToken))).ToLookup(r => r.RecordId, StringComparer.OrdinalIgnoreCase);
        return records.Select(r => new RecordSummary(
            r.Id, r.Artist, r.Title, r.HasSheet != 0,
            [
                .. sides[r.Id].GroupBy(s => s.Side, StringComparer.Ordinal).Select(g => new SideSummary(
                    g.Key, g.Count(), Parse<TakeState>(g.Last().State), (int?)g.LastOrDefault(s => s.State == "accepted")?.Number)),
            ])).ToImmutableArray();
    });

    public Task<ImmutableArray<Take>> TakesAsync(string recordId, CancellationToken cancellationToken) => ReadAsync(async connection =>
        ToTakes(await connection.QueryAsync<TakeRow>(new CommandDefinition(
            "SELECT t.id AS Id, t.record_id AS RecordId, t.side AS Side, t.number AS Number, t.state AS State, t.decided_at AS DecidedAt, t.reason AS Reason, "
            + "s.ordinal AS Ordinal, s.capture_id AS CaptureId, s.start_frame AS StartFrame, s.end_frame AS EndFrame "
            + "FROM takes t JOIN take_spans s ON s.take_id = t.id WHERE t.record_id = @recordId ORDER BY t.side, t.number, s.ordinal",
            new { recordId }, cancellationToken: cancellationToken))));

    public Task<ImmutableArray<Job>> DiscardedBeforeAsync(DateTimeOffset before, CancellationToken cancellationToken) => ReadAsync(async connection =>
    {
        IEnumerable<JobRow> rows = await connection.QueryAsync<JobRow>(new CommandDefinition(
            $"SELECT {JobColumns} FROM jobs WHERE state = 'discarded' AND finished_at < @before "
            + "AND capture_id IN (SELECT id FROM captures WHERE location LIKE 'held/discarded/%') ORDER BY id LIMIT 100",
            new { before = Ms(before) }, cancellationToken: cancellationToken));
        return await LoadAllAsync(connection, rows);
    });

    public Task DiscardedRemovedAsync(JobId id, CancellationToken cancellationToken) => WriteAsync(
        (connection, transaction) => connection.ExecuteAsync(
            "UPDATE captures SET location = '' WHERE id = (SELECT capture_id FROM jobs WHERE id = @id AND state = 'discarded')", new { id = id.Value }, transaction),
        cancellationToken);

    private static async Task<ImmutableArray<Job>> LoadAllAsync(Microsoft.Data.Sqlite.SqliteConnection connection, IEnumerable<JobRow> rows)
    {
        ImmutableArray<Job>.Builder jobs = ImmutableArray.CreateBuilder<Job>();
        foreach (JobRow row in rows.AsList())
        {
            jobs.Add(await LoadJobAsync(connection, row, transaction: null));
        }

        return jobs.ToImmutable();
    }

    private sealed class RecordRow
    {
        public string Id { get; set; } = "";

        public string? Artist { get; set; }

        public string? Title { get; set; }

        public long HasSheet { get; set; }
    }

    private sealed class SideRow
    {
        public string RecordId { get; set; } = "";

        public string Side { get; set; } = "";

        public long Number { get; set; }

        public string State { get; set; } = "";
    }
}
