using System.Collections.Immutable;
using Dapper;
using Microsoft.Data.Sqlite;

namespace Station.Daemon.Jobs.Store;

/// <summary>Audits a person asked for, and how the copies stand.</summary>
internal sealed partial class SqliteStore
{
    private const string AuditColumns =
        "a.id AS Id, a.asked_at AS AskedAt, p.place AS Place, p.finished_at AS FinishedAt, p.copies_read AS CopiesRead, p.damaged AS Damaged, p.mended AS Mended";

    public Task<AskedAudit> AskAuditAsync(ImmutableArray<string> places, DateTimeOffset at, CancellationToken cancellationToken) => WriteAsync(
        async (connection, transaction) =>
        {
            string[] wanted = [.. places.Distinct(StringComparer.Ordinal).Order(StringComparer.Ordinal)];
            AskedAudit? open = (await AuditsOfAsync(
                connection, "a.id IN (SELECT audit_id FROM audit_places WHERE finished_at IS NULL)", new { }, transaction)).FirstOrDefault();
            if (open is not null)
            {
                return open.Places.Select(p => p.Place).SequenceEqual(wanted, StringComparer.Ordinal)
                    ? open
                    : throw new AuditRefusedException($"An audit of {string.Join(", ", open.Places.Select(p => p.Place))} is under way.");
            }

            if (await connection.ExecuteScalarAsync<long>(
                "SELECT EXISTS (SELECT 1 FROM bag_copies WHERE place IN @wanted AND state IN ('verified', 'damaged'))", new { wanted }, transaction) == 0)
            {
                throw new AuditRefusedException("There is no copy of a bag to be read yet.");
            }

            string id = Guid.CreateVersion7(at).ToString("D");
            await connection.ExecuteAsync("INSERT INTO audits (id, asked_at) VALUES (@id, @at)", new { id, at = Ms(at) }, transaction);
            await connection.ExecuteAsync("INSERT INTO audit_places (audit_id, place) VALUES (@id, @place)", wanted.Select(place => new { id, place }), transaction);
            return new AskedAudit(id, At(Ms(at)), [.. wanted.Select(place => new AuditAtPlace(place, null, 0, 0, 0))]);
        },
        cancellationToken);

    public Task<AskedAudit?> OpenAuditAsync(string place, CancellationToken cancellationToken) => ReadAsync(async connection => (await AuditsOfAsync(
        connection, "a.id IN (SELECT audit_id FROM audit_places WHERE place = @place AND finished_at IS NULL)", new { place }, transaction: null)).FirstOrDefault());

    public Task AuditReadAsync(string id, string place, bool damaged, bool mended, CancellationToken cancellationToken) => WriteAsync(
        (connection, transaction) => connection.ExecuteAsync(
            "UPDATE audit_places SET copies_read = copies_read + 1, damaged = damaged + @damaged, mended = mended + @mended WHERE audit_id = @id AND place = @place",
            new { id, place, damaged = damaged ? 1 : 0, mended = mended ? 1 : 0 }, transaction),
        cancellationToken);

    public Task AuditFinishedAsync(string id, string place, DateTimeOffset at, CancellationToken cancellationToken) => WriteAsync(
        (connection, transaction) => connection.ExecuteAsync(
            "UPDATE audit_places SET finished_at = @at WHERE audit_id = @id AND place = @place AND finished_at IS NULL", new { id, place, at = Ms(at) }, transaction),
        cancellationToken);

    public Task<ImmutableArray<AskedAudit>> AuditsAsync(string? beforeId, int limit, CancellationToken cancellationToken) => ReadAsync(connection => AuditsOfAsync(
        connection, "a.id IN (SELECT id FROM audits WHERE @beforeId IS NULL OR id < @beforeId ORDER BY id DESC LIMIT @limit)", new { beforeId, limit }, transaction: null));

    public Task<AskedAudit?> AuditAsync(string id, CancellationToken cancellationToken) => ReadAsync(async connection =>
        (await AuditsOfAsync(connection, "a.id = @id", new { id }, transaction: null)).FirstOrDefault());

    public Task<ImmutableArray<CopiesAtPlace>> PlacesAsync(CancellationToken cancellationToken) => ReadAsync<ImmutableArray<CopiesAtPlace>>(async connection =>
    [
        .. (await connection.QueryAsync<(string Place, string State, long Count, long? Oldest)>(
            "SELECT place, state, count(*), min(nullif(looked_at, 0)) FROM bag_copies GROUP BY place, state"))
            .GroupBy(r => r.Place, StringComparer.Ordinal).OrderBy(g => g.Key, StringComparer.Ordinal).Select(place =>
            {
                int Count(string state) => (int)place.Where(r => r.State == state).Sum(r => r.Count);
                return new CopiesAtPlace(place.Key, Count("verified"), Count("behind"), Count("damaged"), At(place.Where(r => r.State != "behind").Min(r => r.Oldest)));
            }),
    ]);

    /// <summary>Newest first; places by name.</summary>
    private static async Task<ImmutableArray<AskedAudit>> AuditsOfAsync(SqliteConnection connection, string where, object parameters, SqliteTransaction? transaction) =>
    [
        .. (await connection.QueryAsync<AuditRow>(
            $"SELECT {AuditColumns} FROM audits a JOIN audit_places p ON p.audit_id = a.id WHERE {where} ORDER BY a.id DESC, p.place", parameters, transaction))
            .GroupBy(r => r.Id, StringComparer.Ordinal)
            .Select(g => new AskedAudit(
                g.Key, At(g.First().AskedAt), [.. g.Select(r => new AuditAtPlace(r.Place, At(r.FinishedAt), (int)r.CopiesRead, (int)r.Damaged, (int)r.Mended))])),
    ];

    private sealed class AuditRow
    {
        public string Id { get; set; } = "";

        public long AskedAt { get; set; }

        public string Place { get; set; } = "";

        public long? FinishedAt { get; set; }

        public long CopiesRead { get; set; }

        public long Damaged { get; set; }

        public long Mended { get; set; }
    }
}
