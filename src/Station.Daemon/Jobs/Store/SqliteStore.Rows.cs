using System.Collections.Immutable;
using System.Text.Json;
using Dapper;
using Microsoft.Data.Sqlite;
using Station.Audio.Findings;

namespace Station.Daemon.Jobs.Store;

/// <summary>Rows as the tables hold them, and the domain they become.</summary>
internal sealed partial class SqliteStore
{
    private const string CaptureColumns =
        "id AS Id, file_name AS FileName, record_id AS RecordId, sides AS Sides, part AS Part, number AS Number, side_assumed AS SideAssumed, bytes AS Bytes, "
        + "received_at AS ReceivedAt, sha256 AS Sha256, frames AS Frames, sample_rate AS SampleRate, location AS Location, bag AS Bag, archived_at AS ArchivedAt, filed_record AS FiledRecord, filed_sides AS FiledSides";

    private const string JobColumns =
        "id AS Id, state AS State, capture_id AS CaptureId, attempt AS Attempt, failures AS Failures, crashes AS Crashes, owner AS Owner, not_before AS NotBefore, "
        + "verdict AS Verdict, reason AS Reason, accepted_at AS AcceptedAt, accepted_why AS AcceptedWhy, pending_move AS PendingMove, created_at AS CreatedAt, finished_at AS FinishedAt";

    private static async Task<Job> LoadJobAsync(SqliteConnection connection, JobRow row, SqliteTransaction? transaction)
    {
        Capture capture = (await connection.QuerySingleAsync<CaptureRow>(
            $"SELECT {CaptureColumns} FROM captures WHERE id = @CaptureId", new { row.CaptureId }, transaction)).ToCapture();

        IEnumerable<StageRow> stages = await connection.QueryAsync<StageRow>(
            "SELECT name AS Name, outcome AS Outcome, attempt AS Attempt, started_at AS StartedAt, ended_at AS EndedAt, result AS Result, reason AS Reason "
            + "FROM job_stages WHERE job_id = @Id", new { row.Id }, transaction);

        IEnumerable<TakeRow> takes = await connection.QueryAsync<TakeRow>(
            "SELECT t.id AS Id, t.record_id AS RecordId, t.side AS Side, t.number AS Number, t.state AS State, t.decided_at AS DecidedAt, t.reason AS Reason, "
            + "s.ordinal AS Ordinal, s.capture_id AS CaptureId, s.start_frame AS StartFrame, s.end_frame AS EndFrame "
            + "FROM takes t JOIN take_spans s ON s.take_id = t.id "
            + "WHERE t.id IN (SELECT take_id FROM take_spans WHERE capture_id = @CaptureId) ORDER BY t.side, t.number, s.ordinal",
            new { row.CaptureId }, transaction);

        ImmutableArray<Take> all = ToTakes(takes);
        return new Job
        {
            Id = new JobId(row.Id),
            State = Parse<JobState>(row.State),
            Capture = capture,
            Takes = all,
            Parts = await PartsAsync(connection, capture, all, transaction),
            Copies = capture.Bag is null ? [] : await CopiesOfAsync(connection, capture.Id.Value, transaction),
            Stages = stages.ToImmutableSortedDictionary(
                s => s.Name,
                s => new StageRecord(s.Name, Parse<StageOutcomeKind>(s.Outcome), (int)s.Attempt, At(s.StartedAt), At(s.EndedAt), s.Result, s.Reason),
                StringComparer.Ordinal),
            Attempt = (int)row.Attempt,
            Failures = (int)row.Failures,
            Crashes = (int)row.Crashes,
            Owner = row.Owner,
            NotBefore = row.NotBefore == 0 ? null : At(row.NotBefore),
            Verdict = row.Verdict is null ? null : Parse<Verdict>(row.Verdict),
            Reason = row.Reason,
            AcceptedAt = At(row.AcceptedAt),
            AcceptedWhy = row.AcceptedWhy,
            PendingMove = row.PendingMove is null ? null : JsonSerializer.Deserialize<PendingMove>(row.PendingMove),
            CreatedAt = At(row.CreatedAt),
            FinishedAt = At(row.FinishedAt),
        };
    }

    private static ImmutableArray<Take> ToTakes(IEnumerable<TakeRow> rows) =>
    [
        .. rows.GroupBy(r => r.Id, StringComparer.Ordinal).Select(g =>
        {
            TakeRow first = g.First();
            return new Take
            {
                Id = first.Id,
                RecordId = first.RecordId,
                Side = first.Side,
                Number = (int)first.Number,
                State = Parse<TakeState>(first.State),
                DecidedAt = At(first.DecidedAt),
                Reason = first.Reason,
                Spans = [.. g.Select(s => new TakeSpan((int)s.Ordinal, new CaptureId(s.CaptureId), s.StartFrame, s.EndFrame))],
            };
        }),
    ];

    private static async Task<Job?> FindJobAsync(SqliteConnection connection, string id, SqliteTransaction? transaction)
    {
        JobRow? row = await connection.QuerySingleOrDefaultAsync<JobRow>($"SELECT {JobColumns} FROM jobs WHERE id = @id", new { id }, transaction);
        return row is null ? null : await LoadJobAsync(connection, row, transaction);
    }

    // Classes with setters, not records: Dapper then converts SQLite's 64-bit integers member by member.
    private sealed class JobRow
    {
        public string Id { get; set; } = "";

        public string State { get; set; } = "";

        public string CaptureId { get; set; } = "";

        public long Attempt { get; set; }

        public long Failures { get; set; }

        public long Crashes { get; set; }

        public string? Owner { get; set; }

        public long NotBefore { get; set; }

        public string? Verdict { get; set; }

        public string? Reason { get; set; }

        public long? AcceptedAt { get; set; }

        public string? AcceptedWhy { get; set; }

        public string? PendingMove { get; set; }

        public long CreatedAt { get; set; }

        public long? FinishedAt { get; set; }
    }

    private sealed class CaptureRow
    {
        public string Id { get; set; } = "";

        public string FileName { get; set; } = "";

        public string RecordId { get; set; } = "";

        public string Sides { get; set; } = "";

        public long? Part { get; set; }

        public long Number { get; set; }

        public long SideAssumed { get; set; }

        public long Bytes { get; set; }

        public long ReceivedAt { get; set; }

        public string? Sha256 { get; set; }

        public long? Frames { get; set; }

        public long? SampleRate { get; set; }

        public string Location { get; set; } = "";

        public string? Bag { get; set; }

        public long? ArchivedAt { get; set; }

        public string? FiledRecord { get; set; }

        public string? FiledSides { get; set; }

        public Capture ToCapture() => new()
        {
            Id = new CaptureId(Id),
            FileName = FileName,
            RecordId = FiledRecord ?? RecordId,
            Sides = FiledSides ?? Sides,
            NamedRecordId = FiledRecord is null ? null : RecordId,
            NamedSides = FiledSides is null ? null : Sides,
            Part = (int?)Part,
            Number = (int)Number,
            SideAssumed = SideAssumed != 0,
            Bytes = Bytes,
            ReceivedAt = At(ReceivedAt),
            Sha256 = Sha256,
            Frames = Frames,
            SampleRateHz = (int?)SampleRate,
            Location = Location,
            Bag = Bag,
            ArchivedAt = At(ArchivedAt),
        };
    }

    private sealed class StageRow
    {
        public string Name { get; set; } = "";

        public string Outcome { get; set; } = "";

        public long Attempt { get; set; }

        public long StartedAt { get; set; }

        public long EndedAt { get; set; }

        public string? Result { get; set; }

        public string? Reason { get; set; }
    }

    private sealed class TakeRow
    {
        public string Id { get; set; } = "";

        public string RecordId { get; set; } = "";

        public string Side { get; set; } = "";

        public long Number { get; set; }

        public string State { get; set; } = "";

        public long? DecidedAt { get; set; }

        public string? Reason { get; set; }

        public long Ordinal { get; set; }

        public string CaptureId { get; set; } = "";

        public long StartFrame { get; set; }

        public long? EndFrame { get; set; }
    }
}
