using System.Collections.Immutable;
using Dapper;
using Microsoft.Data.Sqlite;

namespace Station.Daemon.Jobs.Store;

/// <summary>Which captures make up a take, and what happens to a take when one of them comes, goes or is decided about.</summary>
internal sealed partial class SqliteStore
{
    /// <summary>
    /// Puts a capture into a take. A part joins the side's newest take while that is open and lacks just this part; when it is decided
    /// already, or has the part, the side's next take is made of the newest one's other parts and this one. A whole capture joins an
    /// open take of later parts as their first, and is the side's next take otherwise.
    /// </summary>
    private static async Task AddToTakeAsync(SqliteConnection connection, SqliteTransaction transaction, NewCapture capture, CaptureId captureId, char side)
    {
        string sideText = side.ToString();
        int part = capture.Part ?? 1;
        PartRow[] newest = capture.Sides.Length > 1
            ? []
            : [.. await connection.QueryAsync<PartRow>(
                "SELECT t.id AS TakeId, t.state AS State, s.ordinal AS Ordinal, s.capture_id AS CaptureId, c.sides AS Sides, c.part AS Part "
                + "FROM take_spans s JOIN takes t ON t.id = s.take_id JOIN captures c ON c.id = s.capture_id "
                + "WHERE t.id = (SELECT id FROM takes WHERE record_id = @RecordId AND side = @sideText AND state NOT IN ('void', 'discarded') ORDER BY number DESC LIMIT 1) "
                + "ORDER BY s.ordinal",
                new { capture.RecordId, sideText }, transaction)];
        bool isOpen = newest.Length > 0 && newest.All(row => row.State == "pending" && row.Sides == capture.Sides);
        bool hasPart = newest.Any(row => row.Ordinal == part);
        bool joins = isOpen && !hasPart && (capture.Part is not null || newest.All(row => row.Part is not null));
        string takeId;
        if (joins)
        {
            takeId = newest[0].TakeId;
        }
        else
        {
            takeId = Guid.CreateVersion7(capture.ReceivedAt).ToString("D");
            await connection.ExecuteAsync(
                "INSERT INTO takes (id, record_id, side, number, state) VALUES (@takeId, @RecordId, @sideText, "
                + "(SELECT coalesce(max(number), 0) + 1 FROM takes WHERE record_id = @RecordId AND side = @sideText), 'pending')",
                new { takeId, capture.RecordId, sideText }, transaction);
            await BindWaitingCueAsync(connection, transaction, capture, sideText);
            foreach (PartRow row in capture.Part is null || newest.Any(row => row.Sides != capture.Sides) ? [] : newest.Where(row => row.Ordinal != part))
            {
                await AddSpanAsync(connection, transaction, takeId, (int)row.Ordinal, row.CaptureId);
            }
        }

        await AddSpanAsync(connection, transaction, takeId, part, captureId.Value);
    }

    private static Task AddSpanAsync(SqliteConnection connection, SqliteTransaction transaction, string takeId, int ordinal, string captureId) =>
        connection.ExecuteAsync(
            "INSERT INTO take_spans (take_id, ordinal, capture_id, start_frame) VALUES (@takeId, @ordinal, @captureId, 0)",
            new { takeId, ordinal, captureId }, transaction);

    /// <summary>The parts of the take a capture is a part of; null when it is a whole capture by itself.</summary>
    private static async Task<TakeParts?> PartsAsync(SqliteConnection connection, Capture capture, ImmutableArray<Take> takes, SqliteTransaction? transaction)
    {
        if (capture.Sides.Length > 1 || takes.IsEmpty || Take.Current(takes) is not { } take || (take.Spans.Length == 1 && capture.Part is null))
        {
            return null;
        }

        IEnumerable<PartJobRow> rows = await connection.QueryAsync<PartJobRow>(
            "SELECT j.id AS JobId, j.state AS JobState, s.capture_id AS CaptureId, "
            + "EXISTS (SELECT 1 FROM job_stages g WHERE g.job_id = j.id AND g.name = 'inspect' AND g.outcome = 'done') AS IsInspected, "
            + "NOT EXISTS (SELECT 1 FROM take_spans os JOIN takes o ON o.id = os.take_id WHERE os.capture_id = s.capture_id AND o.side = @Side "
            + "AND o.number > @Number AND o.state NOT IN ('void', 'discarded')) AS IsCurrent "
            + "FROM take_spans s JOIN jobs j ON j.capture_id = s.capture_id WHERE s.take_id = @Id ORDER BY s.ordinal",
            new { take.Id, take.Side, take.Number }, transaction);
        ImmutableArray<TakePart>.Builder parts = ImmutableArray.CreateBuilder<TakePart>();
        foreach (PartJobRow row in rows.AsList())
        {
            Capture its = row.CaptureId == capture.Id.Value
                ? capture
                : (await connection.QuerySingleAsync<CaptureRow>($"SELECT {CaptureColumns} FROM captures WHERE id = @CaptureId", new { row.CaptureId }, transaction)).ToCapture();
            parts.Add(new TakePart(new JobId(row.JobId), Parse<JobState>(row.JobState), its, row.IsInspected != 0, row.IsCurrent != 0));
        }

        return parts.Any(p => p.IsCurrent) ? new TakeParts(take, parts.ToImmutable()) : null;
    }

    private static Task DecideTakeAsync(SqliteConnection connection, SqliteTransaction transaction, Take take, TakeState state, string? reason, long now) =>
        connection.ExecuteAsync(
            "UPDATE takes SET state = @state, decided_at = @now, reason = @reason WHERE id = @Id", new { state = Text(state), now, reason, take.Id }, transaction);

    /// <summary>
    /// A capture came to nothing or was thrown away, and its takes with it; but a take that has other parts goes on without this one, unless
    /// those were in a take before that.
    /// </summary>
    private static async Task LeaveTakesAsync(SqliteConnection connection, SqliteTransaction transaction, Job job, TakeState state, string? reason, long now)
    {
        foreach (Take take in job.CurrentTakes)
        {
            bool goesOn = await connection.ExecuteScalarAsync<bool>(
                "SELECT EXISTS (SELECT 1 FROM take_spans s WHERE s.take_id = @Id AND s.capture_id <> @captureId AND NOT EXISTS ("
                + "SELECT 1 FROM take_spans os JOIN takes o ON o.id = os.take_id WHERE os.capture_id = s.capture_id AND o.id <> @Id AND o.side = @Side "
                + "AND o.state NOT IN ('void', 'discarded')))",
                new { take.Id, take.Side, captureId = job.Capture.Id.Value }, transaction);
            if (goesOn)
            {
                await connection.ExecuteAsync(
                    "DELETE FROM take_spans WHERE take_id = @Id AND capture_id = @captureId", new { take.Id, captureId = job.Capture.Id.Value }, transaction);
                await WakeStaleLeadsAsync(connection, transaction, take);
            }
            else
            {
                await DecideTakeAsync(connection, transaction, take, state, reason, now);
                if (state == TakeState.Void)
                {
                    await UnbindCueAsync(connection, transaction, take);
                }
            }
        }
    }

    /// <summary>The take is settled: the other parts' jobs, which waited for that, end.</summary>
    private static async Task WakePartsAsync(SqliteConnection connection, SqliteTransaction transaction, Job lead)
    {
        foreach (TakePart part in lead.Parts?.Parts.Where(p => p.IsCurrent && p.JobId != lead.Id) ?? [])
        {
            if (await FindJobAsync(connection, part.JobId.Value, transaction) is { State: JobState.Held } held)
            {
                await MoveOnAsync(connection, transaction, held, JobState.Queued, "not_before = 0, reason = NULL");
            }
        }
    }

    /// <summary>A part was set before the operator; a lead that was held before this part was read divides again, with it.</summary>
    private static Task WakeStaleLeadAsync(SqliteConnection connection, SqliteTransaction transaction, Job job) =>
        job.Parts is { } parts ? WakeStaleLeadsAsync(connection, transaction, parts.Take) : Task.CompletedTask;

    private static async Task WakeStaleLeadsAsync(SqliteConnection connection, SqliteTransaction transaction, Take take)
    {
        foreach (string id in (await connection.QueryAsync<string>(
            "SELECT j.id FROM jobs j JOIN take_spans s ON s.capture_id = j.capture_id WHERE s.take_id = @Id AND j.state = 'held'", new { take.Id }, transaction)).AsList())
        {
            if (await FindJobAsync(connection, id, transaction) is { Leads: true, DivisionIsCurrent: false } lead)
            {
                await MoveOnAsync(connection, transaction, lead, JobState.Queued, "not_before = 0, reason = NULL");
            }
        }
    }

    /// <summary>The jobs an operator's decision on one of them is about: those of all parts that wait, the one that leads among them.</summary>
    private static async Task<ImmutableArray<Job>> DecidedTogetherAsync(SqliteConnection connection, SqliteTransaction transaction, Job job, string wanted)
    {
        if (job.Parts is not { } parts)
        {
            return [job];
        }

        if (parts.Lead.State is not (JobState.Held or JobState.Superseded))
        {
            throw new JobStateException(parts.Lead.JobId, parts.Lead.State, wanted);
        }

        ImmutableArray<Job>.Builder jobs = ImmutableArray.CreateBuilder<Job>();
        foreach (TakePart part in parts.Parts.Where(p => p.IsCurrent && p.State is JobState.Held or JobState.Superseded))
        {
            jobs.Add((await FindJobAsync(connection, part.JobId.Value, transaction))!);
        }

        return jobs.ToImmutable();
    }

    private sealed class PartRow
    {
        public string TakeId { get; set; } = "";

        public string State { get; set; } = "";

        public long Ordinal { get; set; }

        public string CaptureId { get; set; } = "";

        public string Sides { get; set; } = "";

        public long? Part { get; set; }
    }

    private sealed class PartJobRow
    {
        public string JobId { get; set; } = "";

        public string JobState { get; set; } = "";

        public string CaptureId { get; set; } = "";

        public long IsInspected { get; set; }

        public long IsCurrent { get; set; }
    }
}
