using System.Collections.Immutable;
using System.Globalization;
using Dapper;
using Microsoft.Data.Sqlite;

namespace Station.Daemon.Jobs.Store;

internal sealed partial class SqliteStore
{
    private const string IdentificationColumns =
        "id AS Id, job_id AS JobId, from_label AS FromLabel, from_record AS FromRecord, from_sides AS FromSides, from_part AS FromPart, from_takes AS FromTakes, "
        + "to_record AS ToRecord, to_sides AS ToSides, to_part AS ToPart, to_takes AS ToTakes, decided_at AS DecidedAt, finished_at AS FinishedAt";

    // A discarded capture is nobody's, and a refused or duplicate one held nothing new.
    private const string Counts = "(SELECT state FROM jobs j WHERE j.capture_id = captures.id ORDER BY created_at DESC LIMIT 1) NOT IN ('discarded', 'refused', 'duplicate')";

    public Task SaveProgrammeAsync(CaptureId id, byte[] fingerprint, CancellationToken cancellationToken) => WriteAsync(
        (connection, transaction) => connection.ExecuteAsync(
            "INSERT INTO programmes (capture_id, fingerprint) VALUES (@id, @fingerprint) ON CONFLICT (capture_id) DO UPDATE SET fingerprint = excluded.fingerprint",
            new { id = id.Value, fingerprint }, transaction),
        cancellationToken);

    public Task<byte[]?> ProgrammeAsync(CaptureId id, CancellationToken cancellationToken) => ReadAsync(connection =>
        connection.ExecuteScalarAsync<byte[]?>(
            new CommandDefinition("SELECT fingerprint FROM programmes WHERE capture_id = @id", new { id = id.Value }, cancellationToken: cancellationToken)));

    public Task<ImmutableArray<Capture>> ComparableAsync(Capture capture, int others, CancellationToken cancellationToken) => ReadAsync(async connection =>
    {
        IEnumerable<CaptureRow> same = await connection.QueryAsync<CaptureRow>(new CommandDefinition(
            $"SELECT {CaptureColumns} FROM captures WHERE {OfRecord} AND id <> @id AND id IN (SELECT capture_id FROM programmes) AND {Counts} ORDER BY id DESC",
            new { record = capture.RecordId, id = capture.Id.Value }, cancellationToken: cancellationToken));
        IEnumerable<CaptureRow> latest = await connection.QueryAsync<CaptureRow>(new CommandDefinition(
            $"SELECT {CaptureColumns} FROM captures WHERE NOT {OfRecord} AND id <> @id AND id IN (SELECT capture_id FROM programmes) AND {Counts} ORDER BY id DESC LIMIT @others",
            new { record = capture.RecordId, id = capture.Id.Value, others }, cancellationToken: cancellationToken));
        return same.Concat(latest).Select(r => r.ToCapture()).ToImmutableArray();
    });

    public Task<ImmutableArray<Identification>> IdentificationsAsync(JobId? job, bool openOnly, CancellationToken cancellationToken) => ReadAsync(async connection =>
        (await connection.QueryAsync<IdentificationRow>(new CommandDefinition(
            $"SELECT {IdentificationColumns} FROM identifications WHERE (@job IS NULL OR job_id = @job) AND (NOT @openOnly OR finished_at IS NULL) ORDER BY id",
            new { job = job?.Value, openOnly }, cancellationToken: cancellationToken))).Select(r => r.ToIdentification()).ToImmutableArray());

    public Task IdentificationFinishedAsync(string id, CancellationToken cancellationToken) => WriteAsync(
        (connection, transaction) => connection.ExecuteAsync(
            "UPDATE identifications SET finished_at = @now WHERE id = @id AND finished_at IS NULL", new { id, now = Ms(_clock.GetUtcNow()) }, transaction),
        cancellationToken);

    public Task<Job> IdentifyAsync(JobId id, FiledAs target, CancellationToken cancellationToken) => WriteAsync(
        async (connection, transaction) =>
        {
            Job job = await FindJobAsync(connection, id.Value, transaction) ?? throw new JobNotFoundException(id.Value);
            if (job.State is not (JobState.Done or JobState.Held or JobState.Failed or JobState.Superseded))
            {
                throw new JobStateException(id, job.State, "filed under another name");
            }

            long now = Ms(_clock.GetUtcNow());
            target = target with { RecordId = await SpellingAsync(connection, target.RecordId, transaction) };
            await RefuseIdentityAsync(connection, transaction, job, target);
            await EnsureRecordAsync(connection, transaction, target.RecordId, now);
            await FileAsync(connection, transaction, job.Capture, target);
            await LeaveTakesAsync(connection, transaction, job, target, now);
            var renamed = new NewCapture(
                job.Id, job.Capture.FileName, target.RecordId, target.Sides, target.Part, SideAssumed: false, job.Capture.Bytes, job.Capture.Location, At(now));
            foreach (char side in target.Sides)
            {
                await AddToTakeAsync(connection, transaction, renamed, job.Capture.Id, side);
            }

            await MoveCueAsync(connection, transaction, job, (await FindJobAsync(connection, id.Value, transaction))!);

            // What was made of the sound stays; what depends on the record is made again. Without a bag nothing but the file itself is trusted.
            string forget = job.Capture.ArchivedAt is null ? "name <> 'intake'" : "name IN ('divide', 'encode', 'publish')";
            await connection.ExecuteAsync($"DELETE FROM job_stages WHERE job_id = @id AND {forget}", new { id = job.Id.Value }, transaction);
            await MoveOnAsync(
                connection, transaction, job, JobState.Queued, "verdict = NULL, failures = 0, crashes = 0, not_before = 0, reason = NULL, finished_at = NULL");
            Job filed = (await FindJobAsync(connection, id.Value, transaction))!;
            await connection.ExecuteAsync(
                "INSERT INTO identifications (id, job_id, capture_id, from_label, from_record, from_sides, from_part, from_number, from_takes, to_record, to_sides, to_part, to_takes, decided_at) "
                + "VALUES (@newId, @job, @capture, @label, @fromRecord, @fromSides, @fromPart, @number, @fromTakes, @toRecord, @toSides, @toPart, @toTakes, @now)",
                new
                {
                    newId = Guid.CreateVersion7(At(now)).ToString("D"),
                    job = job.Id.Value,
                    capture = job.Capture.Id.Value,
                    label = job.Capture.Label,
                    fromRecord = job.Capture.RecordId,
                    fromSides = job.Capture.Sides,
                    fromPart = job.Capture.Part,
                    number = job.Capture.Number,
                    fromTakes = TakesText(job),
                    toRecord = target.RecordId,
                    toSides = target.Sides,
                    toPart = target.Part,
                    toTakes = TakesText(filed),
                    now,
                },
                transaction);
            return filed;
        },
        cancellationToken);

    /// <summary>The captures filed under a record: by their label, unless a person said otherwise.</summary>
    private const string OfRecord = "((record_id = @record AND filed_record IS NULL) OR (filed_record IS NOT NULL AND filed_record = @record))";

    private static async Task RefuseIdentityAsync(SqliteConnection connection, SqliteTransaction transaction, Job job, FiledAs target)
    {
        if (job.Capture.Filed.IsSameAs(target))
        {
            throw new IdentityException($"{job.Capture.Label} is filed as {target.Text} already.");
        }

        // Where nothing is archived yet, the inspection finds this out and lets the file go once the kept copy was checked.
        IEnumerable<CaptureRow> same = job.Capture is { ArchivedAt: not null, Sha256: { } sha256 }
            ? await connection.QueryAsync<CaptureRow>(
                $"SELECT {CaptureColumns} FROM captures WHERE sha256 = @sha256 AND id <> @id AND archived_at IS NOT NULL AND {Counts}",
                new { sha256, id = job.Capture.Id.Value }, transaction)
            : [];
        if (same.Select(r => r.ToCapture()).FirstOrDefault(c => c.Filed.IsSameAs(target)) is { } kept)
        {
            throw new IdentityException(
                $"{kept.Label} holds the same bytes and is filed as {target.Text} already: a second take of them would say nothing new. "
                + $"To have this capture filed nowhere: stationd discard {job.Capture.Label}, once it is held or superseded.");
        }
    }

    /// <summary>Without a bag the capture gets the label it should have had; one that is archived keeps its bag's.</summary>
    private static Task FileAsync(SqliteConnection connection, SqliteTransaction transaction, Capture capture, FiledAs target)
    {
        bool isAsLabelled = string.Equals(capture.LabelRecordId, target.RecordId, StringComparison.OrdinalIgnoreCase) && capture.LabelSides == target.Sides;
        return capture.ArchivedAt is null
            ? connection.ExecuteAsync(
                "UPDATE captures SET record_id = @RecordId, sides = @Sides, part = @Part, side_assumed = 0, "
                + $"number = CASE WHEN @isAsLabelled THEN number ELSE {NextCaptureNumber} END WHERE id = @id",
                new { target.RecordId, target.Sides, target.Part, isAsLabelled, id = capture.Id.Value }, transaction)
            : connection.ExecuteAsync(
                "UPDATE captures SET filed_record = @filedRecord, filed_sides = @filedSides, part = @Part, side_assumed = 0 WHERE id = @id",
                new
                {
                    filedRecord = isAsLabelled ? null : target.RecordId,
                    filedSides = isAsLabelled ? null : target.Sides,
                    target.Part,
                    id = capture.Id.Value,
                },
                transaction);
    }

    /// <summary>
    /// Takes the capture out of the takes it was part of. One that is left with nothing is void, its number used; where it was the current
    /// one, the take before it that was in force is again, and its listening copies are put back.
    /// </summary>
    private static async Task LeaveTakesAsync(SqliteConnection connection, SqliteTransaction transaction, Job job, FiledAs target, long now)
    {
        await connection.ExecuteAsync("DELETE FROM take_spans WHERE capture_id = @id", new { id = job.Capture.Id.Value }, transaction);
        foreach (Take take in job.Takes.Where(t => t.Spans.All(s => s.CaptureId == job.Capture.Id)))
        {
            await connection.ExecuteAsync(
                "UPDATE takes SET state = 'void', decided_at = @now, reason = @reason WHERE id = @Id",
                new { now, reason = $"{job.Capture.Label} is {target.Words}.", take.Id }, transaction);
            if (take.State == TakeState.Accepted)
            {
                await RestoreTakeAsync(connection, transaction, take, now);
            }
        }
    }

    private static async Task RestoreTakeAsync(SqliteConnection connection, SqliteTransaction transaction, Take left, long now)
    {
        string? before = await connection.QuerySingleOrDefaultAsync<string?>(
            "SELECT t.id FROM takes t WHERE t.record_id = @RecordId AND t.side = @Side AND t.state = 'superseded' AND EXISTS "
            + "(SELECT 1 FROM take_spans s JOIN jobs j ON j.capture_id = s.capture_id WHERE s.take_id = t.id AND j.state = 'done') ORDER BY t.number DESC LIMIT 1",
            new { left.RecordId, left.Side }, transaction);
        if (before is null)
        {
            return;
        }

        await connection.ExecuteAsync("UPDATE takes SET state = 'accepted', decided_at = @now WHERE id = @before", new { now, before }, transaction);
        IEnumerable<string> jobs = await connection.QueryAsync<string>(
            "SELECT id FROM jobs WHERE state = 'done' AND capture_id IN (SELECT capture_id FROM take_spans WHERE take_id = @before)", new { before }, transaction);
        foreach (string id in jobs.AsList())
        {
            Job again = (await FindJobAsync(connection, id, transaction))!;
            await connection.ExecuteAsync("DELETE FROM job_stages WHERE job_id = @id AND name IN ('encode', 'publish')", new { id }, transaction);
            await MoveOnAsync(connection, transaction, again, JobState.Queued, "failures = 0, crashes = 0, not_before = 0, reason = NULL, finished_at = NULL");
        }
    }

    private static string TakesText(Job job) => string.Join(
        ", ", job.Takes.Select(t => string.Create(CultureInfo.InvariantCulture, $"{t.Side}-{t.Number}")));

    private sealed class IdentificationRow
    {
        public string Id { get; set; } = "";

        public string JobId { get; set; } = "";

        public string FromLabel { get; set; } = "";

        public string FromRecord { get; set; } = "";

        public string FromSides { get; set; } = "";

        public long? FromPart { get; set; }

        public string FromTakes { get; set; } = "";

        public string ToRecord { get; set; } = "";

        public string ToSides { get; set; } = "";

        public long? ToPart { get; set; }

        public string ToTakes { get; set; } = "";

        public long DecidedAt { get; set; }

        public long? FinishedAt { get; set; }

        public Identification ToIdentification() => new(
            Id, new JobId(JobId), FromLabel, new FiledAs(FromRecord, FromSides, (int?)FromPart), FromTakes, new FiledAs(ToRecord, ToSides, (int?)ToPart), ToTakes,
            At(DecidedAt), At(FinishedAt));
    }
}
