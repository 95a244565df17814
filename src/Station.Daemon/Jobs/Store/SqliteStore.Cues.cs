using System.Collections.Immutable;
using Dapper;
using Microsoft.Data.Sqlite;

namespace Station.Daemon.Jobs.Store;

/// <summary>What a person said about cuts: one row for each take, and one for the next take of a side that has none.</summary>
internal sealed partial class SqliteStore
{
    private const string CueColumns =
        "record_id AS RecordId, side AS Side, take AS Take, revision AS Revision, file_name AS FileName, cue_text AS Text, received_at AS ReceivedAt";

    private const string ThisCue = "record_id = @RecordId AND side = @Side AND take = @Take";

    public Task<StoredCue> SaveCueAsync(StoredCue cue, CancellationToken cancellationToken) => WriteAsync(
        async (connection, transaction) =>
        {
            await EnsureRecordAsync(connection, transaction, cue.RecordId, Ms(cue.At));
            int take = cue.Take ?? (int)await connection.ExecuteScalarAsync<long>(
                "SELECT coalesce(max(number), 0) FROM takes WHERE record_id = @RecordId AND side = @Side AND state IN ('pending', 'accepted')",
                new { cue.RecordId, cue.Side }, transaction);
            CueRow? known = await connection.QuerySingleOrDefaultAsync<CueRow>(
                $"SELECT {CueColumns} FROM fixed_divisions WHERE {ThisCue}", new { cue.RecordId, cue.Side, Take = take }, transaction);
            if (known is not null && string.Equals(known.Text, cue.Text, StringComparison.Ordinal))
            {
                return known.ToCue();
            }

            await connection.ExecuteAsync(
                "INSERT INTO fixed_divisions (record_id, side, take, revision, file_name, cue_text, received_at) VALUES (@RecordId, @Side, @take, 1, @FileName, @Text, @at) "
                + "ON CONFLICT (record_id, side, take) DO UPDATE SET revision = revision + 1, file_name = excluded.file_name, cue_text = excluded.cue_text, "
                + "received_at = excluded.received_at, told_at = NULL, settled_at = NULL",
                new { cue.RecordId, cue.Side, take, cue.FileName, cue.Text, at = Ms(cue.At) }, transaction);
            return cue with { Take = take, Revision = (int)(known?.Revision ?? 0) + 1 };
        },
        cancellationToken);

    public Task<StoredCue?> CueAsync(string recordId, string side, int take, CancellationToken cancellationToken) => ReadAsync(async connection =>
        (await connection.QuerySingleOrDefaultAsync<CueRow>(new CommandDefinition(
            $"SELECT {CueColumns} FROM fixed_divisions WHERE record_id = @recordId AND side = @side AND take = @take AND cue_text IS NOT NULL",
            new { recordId, side, take }, cancellationToken: cancellationToken)))?.ToCue());

    public Task<ImmutableArray<StoredCue>> CuesAsync(string recordId, string side, CancellationToken cancellationToken) => ReadAsync(async connection =>
        (await connection.QueryAsync<CueRow>(new CommandDefinition(
            $"SELECT {CueColumns} FROM fixed_divisions WHERE record_id = @recordId AND side = @side AND cue_text IS NOT NULL ORDER BY take",
            new { recordId, side }, cancellationToken: cancellationToken))).Select(r => r.ToCue()).ToImmutableArray());

    public Task<ImmutableArray<StoredCue>> OpenCuesAsync(string? recordId, bool untoldOnly, CancellationToken cancellationToken) => ReadAsync(async connection =>
        (await connection.QueryAsync<CueRow>(new CommandDefinition(
            $"SELECT {CueColumns} FROM fixed_divisions WHERE (told_at IS NULL OR settled_at IS NULL) AND (told_at IS NULL OR NOT @untoldOnly) "
            + "AND (@recordId IS NULL OR record_id = @recordId) ORDER BY received_at, record_id, side, take",
            new { recordId, untoldOnly }, cancellationToken: cancellationToken))).Select(r => r.ToCue()).ToImmutableArray());

    public Task CueToldAsync(StoredCue cue, CancellationToken cancellationToken) => MarkCueAsync("told_at", cue, cancellationToken);

    public Task CueSettledAsync(StoredCue cue, CancellationToken cancellationToken) => MarkCueAsync("settled_at", cue, cancellationToken);

    private Task MarkCueAsync(string column, StoredCue cue, CancellationToken cancellationToken) => WriteAsync(
        (connection, transaction) => connection.ExecuteAsync(
            $"UPDATE fixed_divisions SET {column} = @now WHERE {ThisCue} AND revision = @Revision AND {column} IS NULL",
            new { now = Ms(_clock.GetUtcNow()), cue.RecordId, cue.Side, cue.Take, cue.Revision }, transaction),
        cancellationToken);

    /// <summary>A cue sheet that came before any take is for the first whole capture of its side.</summary>
    private static Task BindWaitingCueAsync(SqliteConnection connection, SqliteTransaction transaction, NewCapture capture, string side) =>
        capture.Sides.Length > 1 || capture.Part is not null
            ? Task.CompletedTask
            : connection.ExecuteAsync(
                "UPDATE fixed_divisions SET take = (SELECT max(number) FROM takes WHERE record_id = @RecordId AND side = @side) "
                + "WHERE record_id = @RecordId AND side = @side AND take = 0",
                new { capture.RecordId, side }, transaction);

    /// <summary>The capture came to nothing (no sound, the same bytes again): what was said waits for the next one, unless something waits already.</summary>
    private static Task UnbindCueAsync(SqliteConnection connection, SqliteTransaction transaction, Take take) => connection.ExecuteAsync(
        $"UPDATE OR IGNORE fixed_divisions SET take = 0 WHERE {ThisCue} AND cue_text IS NOT NULL", new { take.RecordId, take.Side, Take = take.Number }, transaction);

    /// <summary>What was fixed for a capture is about its sound and goes with it when it is filed under another name.</summary>
    private static async Task MoveCueAsync(SqliteConnection connection, SqliteTransaction transaction, Job before, Job after)
    {
        if (before.Capture.Sides.Length > 1 || after.Capture.Sides.Length > 1 || before.Parts is not null || after.Parts is not null)
        {
            return;
        }

        Take from = before.TakeOf(before.Capture.Sides);
        Take to = after.TakeOf(after.Capture.Sides);
        await connection.ExecuteAsync(
            $"UPDATE OR REPLACE fixed_divisions SET record_id = @toRecord, side = @toSide, take = @toNumber WHERE {ThisCue} AND cue_text IS NOT NULL",
            new { toRecord = to.RecordId, toSide = to.Side, toNumber = to.Number, from.RecordId, from.Side, Take = from.Number }, transaction);
    }

    private sealed class CueRow
    {
        public string RecordId { get; set; } = "";

        public string Side { get; set; } = "";

        public long Take { get; set; }

        public long Revision { get; set; }

        public string FileName { get; set; } = "";

        public string? Text { get; set; }

        public long ReceivedAt { get; set; }

        public StoredCue ToCue() => new(RecordId, Side, FileName, Text, At(ReceivedAt), (int)Take, (int)Revision);
    }
}
