using System.Collections.Immutable;
using Dapper;
using Microsoft.Data.Sqlite;

namespace Station.Daemon.Jobs.Store;

/// <summary>Where the bags lie, and when each copy was last read.</summary>
internal sealed partial class SqliteStore
{
    private const string CopyColumns =
        "place AS Place, state AS CopyState, tag_manifest AS TagManifest, verified_at AS VerifiedAt, looked_at AS LookedAt, problem AS Problem, tries AS Tries";

    public Task<int> ExpectCopiesAsync(string place, DateTimeOffset since, CancellationToken cancellationToken) => WriteAsync(
        (connection, transaction) => connection.ExecuteAsync(
            "INSERT INTO bag_copies (capture_id, place, state, looked_at) SELECT id, @place, 'behind', 0 FROM captures "
            + "WHERE archived_at IS NOT NULL AND archived_at >= @since AND bag IS NOT NULL ON CONFLICT DO NOTHING",
            new { place, since = Ms(since) }, transaction),
        cancellationToken);

    public Task<ImmutableArray<BagToDo>> BehindAsync(string place, DateTimeOffset now, int limit, CancellationToken cancellationToken) => ReadAsync(
        connection => ToDoAsync(
            connection, "b.place = @place AND b.state = 'behind' AND b.next_try_at <= @now AND NOT EXISTS "
            + "(SELECT 1 FROM bag_copies a WHERE a.capture_id = b.capture_id AND a.place = @archive AND a.state = 'damaged') ORDER BY b.looked_at LIMIT @limit",
            new { place, now = Ms(now), limit, archive = CopyPlaces.Archive }));

    public Task CopyTryingAsync(CaptureId id, string place, DateTimeOffset nextTryAt, CancellationToken cancellationToken) => WriteAsync(
        (connection, transaction) => connection.ExecuteAsync(
            "UPDATE bag_copies SET tries = tries + 1, next_try_at = @nextTryAt WHERE capture_id = @id AND place = @place",
            new { nextTryAt = Ms(nextTryAt), id = id.Value, place }, transaction),
        cancellationToken);

    public Task CopiesAtOnceAsync(string place, CancellationToken cancellationToken) => WriteAsync(
        (connection, transaction) => connection.ExecuteAsync(
            "UPDATE bag_copies SET tries = 0, next_try_at = 0 WHERE place = @place AND state = 'behind' AND tries > 0", new { place }, transaction),
        cancellationToken);

    public Task ReadSoonAsync(CaptureId id, string place, CancellationToken cancellationToken) => WriteAsync(
        (connection, transaction) => connection.ExecuteAsync(
            "UPDATE bag_copies SET looked_at = 0 WHERE capture_id = @id AND place = @place AND state = 'verified'", new { id = id.Value, place }, transaction),
        cancellationToken);

    public Task<int> CountStuckAsync(string place, int tries, CancellationToken cancellationToken) => ReadAsync(connection => connection.ExecuteScalarAsync<int>(
        "SELECT count(*) FROM bag_copies WHERE place = @place AND state = 'behind' AND tries >= @tries", new { place, tries }));

    public Task<(int Behind, int Damaged)> CountCopiesAsync(string place, CancellationToken cancellationToken) => ReadAsync(async connection =>
    {
        ILookup<string, long> counts = (await connection.QueryAsync<(string State, long Count)>(
            "SELECT state, count(*) FROM bag_copies WHERE place = @place AND state IN ('behind', 'damaged') GROUP BY state", new { place }))
            .ToLookup(c => c.State, c => c.Count, StringComparer.Ordinal);
        return ((int)counts["behind"].Sum(), (int)counts["damaged"].Sum());
    });

    public Task<BagToDo?> DueForReadingAsync(
        string place, DateTimeOffset readBefore, DateTimeOffset damagedBefore, CancellationToken cancellationToken) => ReadAsync(async connection =>
    {
        // Two questions of one index each: the damaged are few and asked for first.
        const string Oldest = "b.place = @place AND b.state = @state AND b.looked_at < @before ORDER BY b.looked_at LIMIT 1";
        ImmutableArray<BagToDo> damaged = await ToDoAsync(connection, Oldest, new { place, state = "damaged", before = Ms(damagedBefore) });
        return damaged.FirstOrDefault() ?? (await ToDoAsync(connection, Oldest, new { place, state = "verified", before = Ms(readBefore) })).FirstOrDefault();
    });

    public Task CopyProvedAsync(CaptureId id, string place, string tagManifestSha256, DateTimeOffset at, CancellationToken cancellationToken) => WriteAsync(
        (connection, transaction) => ProvedAsync(connection, transaction, id, place, tagManifestSha256, at), cancellationToken);

    public Task CopyNotProvedAsync(
        CaptureId id, string place, BagCopyState state, string problem, DateTimeOffset at, CancellationToken cancellationToken, DateTimeOffset? nextTryAt = null) => WriteAsync(
        (connection, transaction) => connection.ExecuteAsync(
            "UPDATE bag_copies SET state = @state, looked_at = @at, problem = @problem, next_try_at = coalesce(@next, next_try_at) WHERE capture_id = @id AND place = @place",
            new { state = Text(state), at = Ms(at), problem, next = nextTryAt is { } next ? Ms(next) : (long?)null, id = id.Value, place }, transaction),
        cancellationToken);

    public Task<Guid?> ArchiveMarkerAsync(CancellationToken cancellationToken) => ReadAsync(async connection =>
        await connection.ExecuteScalarAsync<string?>("SELECT marker_id FROM archive_root") is { } id ? Guid.Parse(id) : (Guid?)null);

    public Task NoteArchiveMarkerAsync(Guid id, DateTimeOffset at, CancellationToken cancellationToken) => WriteAsync(
        (connection, transaction) => connection.ExecuteAsync(
            "INSERT INTO archive_root (one, marker_id, noted_at) VALUES (1, @id, @at) "
            + "ON CONFLICT (one) DO UPDATE SET marker_id = excluded.marker_id, noted_at = excluded.noted_at WHERE marker_id <> excluded.marker_id",
            new { id = id.ToString("D"), at = Ms(at) }, transaction),
        cancellationToken);

    public Task<ImmutableArray<string>> NewestBagsAsync(int limit, CancellationToken cancellationToken) => ReadAsync<ImmutableArray<string>>(async connection =>
    [
        .. await connection.QueryAsync<string>(
            "SELECT bag FROM captures WHERE archived_at IS NOT NULL AND bag IS NOT NULL ORDER BY archived_at DESC LIMIT @limit", new { limit }),
    ]);

    public Task<ImmutableArray<BagCopy>> CopiesAsync(CaptureId id, CancellationToken cancellationToken) =>
        ReadAsync(connection => CopiesOfAsync(connection, id.Value, transaction: null));

    public Task<ImmutableArray<Job>> UnreleasedAsync(CopyPlaces places, int limit, CancellationToken cancellationToken) => ReadAsync(async connection =>
    {
        IEnumerable<JobRow> rows = await connection.QueryAsync<JobRow>(
            $"SELECT {JobColumns} FROM jobs WHERE id IN (SELECT (SELECT max(id) FROM jobs j WHERE j.capture_id = c.id) FROM captures c "
            + "WHERE c.archived_at IS NOT NULL AND c.location <> '' AND (SELECT count(*) FROM bag_copies b "
            + "WHERE b.capture_id = c.id AND b.state = 'verified' AND b.place IN @places) >= @BeforeRelease) "
            + "AND state NOT IN ('queued', 'running', 'discarded') ORDER BY id LIMIT @limit",
            new { places = places.Replicas.Append(CopyPlaces.Archive), places.BeforeRelease, limit });
        var jobs = ImmutableArray.CreateBuilder<Job>();
        foreach (JobRow row in rows)
        {
            jobs.Add(await LoadJobAsync(connection, row, transaction: null));
        }

        return jobs.ToImmutable();
    });

    public Task ReleasedAsync(CaptureId id, string location, CancellationToken cancellationToken) => WriteAsync(
        (connection, transaction) => connection.ExecuteAsync(
            "UPDATE captures SET location = '' WHERE id = @id AND location = @location AND archived_at IS NOT NULL "
            + "AND NOT EXISTS (SELECT 1 FROM jobs WHERE capture_id = @id AND state = 'running')",
            new { id = id.Value, location }, transaction),
        cancellationToken);

    private static Task<int> ProvedAsync(
        SqliteConnection connection, SqliteTransaction transaction, CaptureId id, string place, string? tagManifestSha256, DateTimeOffset at) =>
        connection.ExecuteAsync(
            "INSERT INTO bag_copies (capture_id, place, state, tag_manifest, verified_at, looked_at) VALUES (@id, @place, 'verified', @tagManifestSha256, @at, @at) "
            + "ON CONFLICT (capture_id, place) DO UPDATE SET state = 'verified', tag_manifest = coalesce(excluded.tag_manifest, tag_manifest), "
            + "verified_at = excluded.verified_at, looked_at = excluded.looked_at, problem = NULL, tries = 0, next_try_at = 0",
            new { id = id.Value, place, tagManifestSha256, at = Ms(at) }, transaction);

    private static async Task<ImmutableArray<BagCopy>> CopiesOfAsync(SqliteConnection connection, string captureId, SqliteTransaction? transaction) =>
    [
        .. (await connection.QueryAsync<CopyRow>(
            $"SELECT {CopyColumns} FROM bag_copies WHERE capture_id = @captureId ORDER BY place", new { captureId }, transaction)).Select(r => r.ToCopy()),
    ];

    private static async Task<ImmutableArray<BagToDo>> ToDoAsync(SqliteConnection connection, string where, object parameters)
    {
        string captureColumns = string.Join(", ", CaptureColumns.Split(", ").Select(c => "c." + c));
        string copyColumns = string.Join(", ", CopyColumns.Split(", ").Select(c => "b." + c));
        IEnumerable<BagToDo> found = await connection.QueryAsync<CaptureRow, CopyRow, BagToDo>(
            $"SELECT {captureColumns}, {copyColumns} FROM bag_copies b JOIN captures c ON c.id = b.capture_id WHERE {where}",
            (capture, copy) => new BagToDo(capture.ToCapture(), copy.ToCopy()), parameters, splitOn: "Place");
        return [.. found];
    }

    private sealed class CopyRow
    {
        public string Place { get; set; } = "";

        public string CopyState { get; set; } = "";

        public string? TagManifest { get; set; }

        public long? VerifiedAt { get; set; }

        public long LookedAt { get; set; }

        public string? Problem { get; set; }

        public int Tries { get; set; }

        public BagCopy ToCopy() => new(Place, Parse<BagCopyState>(CopyState), TagManifest, At(VerifiedAt), LookedAt == 0 ? null : At(LookedAt), Problem, Tries);
    }
}
