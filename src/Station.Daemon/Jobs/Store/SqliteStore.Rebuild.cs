using Dapper;
using Microsoft.Data.Sqlite;

namespace Station.Daemon.Jobs.Store;

/// <summary>Fills a new store from what archive and reports tell. Nothing here is meant for a store in use.</summary>
internal sealed partial class SqliteStore
{
    /// <summary>Writes records that the store does not hold yet, all of it or nothing.</summary>
    /// <exception cref="SqliteException">Something of it is there already, or contradicts itself.</exception>
    public Task RestoreAsync(RestoredRecords restored, CancellationToken cancellationToken) => WriteAsync(
        async (connection, transaction) =>
        {
            await connection.ExecuteAsync("PRAGMA defer_foreign_keys = ON;", transaction: transaction);
            foreach ((string id, DateTimeOffset at) in restored.Records)
            {
                await EnsureRecordAsync(connection, transaction, id, Ms(at));
            }

            foreach (StoredSheet sheet in restored.Sheets)
            {
                await SaveSheetAsync(connection, transaction, sheet);
            }

            foreach (StoredSleeve sleeve in restored.Sleeves)
            {
                await PutSleeveAsync(connection, transaction, sleeve);
            }

            foreach (Job job in restored.Jobs)
            {
                await RestoreJobAsync(connection, transaction, job);
            }

            foreach (Take take in restored.Takes)
            {
                await connection.ExecuteAsync(
                    "INSERT INTO takes (id, record_id, side, number, state, decided_at, reason) VALUES (@Id, @RecordId, @Side, @Number, @state, @decided, @Reason)",
                    new { take.Id, take.RecordId, take.Side, take.Number, state = Text(take.State), decided = take.DecidedAt is { } at ? Ms(at) : (long?)null, take.Reason },
                    transaction);
                await connection.ExecuteAsync(
                    "INSERT INTO take_spans (take_id, ordinal, capture_id, start_frame, end_frame) VALUES (@Id, @Ordinal, @capture, @StartFrame, @EndFrame)",
                    take.Spans.Select(s => new { take.Id, s.Ordinal, capture = s.CaptureId.Value, s.StartFrame, s.EndFrame }), transaction);
            }

            await connection.ExecuteAsync(
                "INSERT INTO fixed_divisions (record_id, side, take, revision, file_name, cue_text, received_at, told_at) VALUES (@RecordId, @Side, @Take, @Revision, @FileName, @Text, @at, @at)",
                restored.Cues.Select(c => new { c.RecordId, c.Side, c.Take, c.Revision, c.FileName, c.Text, at = Ms(c.At) }), transaction);
            await connection.ExecuteAsync(
                "INSERT INTO programmes (capture_id, fingerprint) VALUES (@id, @Fingerprint)",
                restored.Programmes.Select(p => new { id = p.Capture.Value, p.Fingerprint }), transaction);
            foreach ((Identification identification, int number) in restored.Identifications)
            {
                await RestoreIdentificationAsync(connection, transaction, identification, number, restored.Jobs.First(j => j.Id == identification.JobId).Capture.Id);
            }

            await connection.ExecuteAsync(
                "INSERT INTO published_sides (record_id, side, job_id, folder, blocks, peak) VALUES (@RecordId, @Side, @job, @Folder, @Blocks, @Peak)",
                restored.Published.Select(p => new { p.RecordId, p.Side, job = p.Job.Value, p.Folder, p.Blocks, p.Peak }), transaction);
            await connection.ExecuteAsync("UPDATE records SET copies_due = 0 WHERE id IN @ids", new { ids = restored.Records.Select(r => r.Id) }, transaction);
            await connection.ExecuteAsync("UPDATE records SET copies_due = 1 WHERE id IN @ids", new { ids = restored.CopiesDue }, transaction);
            return true;
        },
        cancellationToken);

    /// <summary>Completes what a stage is recorded to have handed on.</summary>
    public Task ReviseStageAsync(JobId id, string stage, string result, CancellationToken cancellationToken) => WriteAsync(
        (connection, transaction) => connection.ExecuteAsync(
            "UPDATE job_stages SET result = @result WHERE job_id = @id AND name = @stage", new { result, id = id.Value, stage }, transaction),
        cancellationToken);

    /// <summary>Brings everything into the one file, so that it can be moved: no log is left beside it.</summary>
    public void LeaveOneFile()
    {
        using SqliteConnection connection = Connect();
        connection.Execute("PRAGMA wal_checkpoint(TRUNCATE);");
        connection.Execute("PRAGMA journal_mode = DELETE;");
    }

    private static async Task RestoreJobAsync(SqliteConnection connection, SqliteTransaction transaction, Job job)
    {
        Capture capture = job.Capture;
        await connection.ExecuteAsync(
            "INSERT INTO captures (id, file_name, record_id, sides, part, number, side_assumed, bytes, received_at, sha256, frames, sample_rate, location, bag, archived_at, filed_record, filed_sides) "
            + "VALUES (@id, @FileName, @LabelRecordId, @LabelSides, @Part, @Number, @assumed, @Bytes, @received, @Sha256, @Frames, @SampleRateHz, @Location, @Bag, @archived, @filedRecord, @filedSides)",
            new
            {
                id = capture.Id.Value,
                capture.FileName,
                capture.LabelRecordId,
                capture.LabelSides,
                capture.Part,
                capture.Number,
                assumed = capture.SideAssumed ? 1 : 0,
                capture.Bytes,
                received = Ms(capture.ReceivedAt),
                capture.Sha256,
                capture.Frames,
                capture.SampleRateHz,
                capture.Location,
                capture.Bag,
                archived = capture.ArchivedAt is { } at ? Ms(at) : (long?)null,
                filedRecord = capture.NamedRecordId is null ? null : capture.RecordId,
                filedSides = capture.NamedSides is null ? null : capture.Sides,
            },
            transaction);
        await connection.ExecuteAsync(
            "INSERT INTO jobs (id, kind, state, capture_id, attempt, verdict, reason, accepted_at, accepted_why, created_at, finished_at) "
            + "VALUES (@id, 'capture', @state, @capture, @Attempt, @verdict, @Reason, @accepted, @AcceptedWhy, @created, @finished)",
            new
            {
                id = job.Id.Value,
                state = Text(job.State),
                capture = capture.Id.Value,
                job.Attempt,
                verdict = job.Verdict is { } v ? Text(v) : null,
                job.Reason,
                accepted = job.AcceptedAt is { } accepted ? Ms(accepted) : (long?)null,
                job.AcceptedWhy,
                created = Ms(job.CreatedAt),
                finished = job.FinishedAt is { } finished ? Ms(finished) : (long?)null,
            },
            transaction);
        foreach (StageRecord stage in job.Stages.Values)
        {
            await PutStageAsync(connection, transaction, job, stage);
        }

        await connection.ExecuteAsync(
            "INSERT INTO bag_copies (capture_id, place, state, tag_manifest, verified_at, looked_at, problem) VALUES (@id, @Place, @state, @TagManifestSha256, @verified, @looked, @Problem)",
            job.Copies.Select(c => new
            {
                id = capture.Id.Value,
                c.Place,
                state = Text(c.State),
                c.TagManifestSha256,
                verified = c.VerifiedAt is { } at ? Ms(at) : (long?)null,
                looked = c.LookedAt is { } looked ? Ms(looked) : 0,
                c.Problem,
            }),
            transaction);
    }

    private static Task<int> RestoreIdentificationAsync(
        SqliteConnection connection, SqliteTransaction transaction, Identification identification, int number, CaptureId capture) => connection.ExecuteAsync(
        "INSERT INTO identifications (id, job_id, capture_id, from_label, from_record, from_sides, from_part, from_number, from_takes, to_record, to_sides, to_part, to_takes, decided_at, finished_at) "
        + "VALUES (@Id, @job, @capture, @FromLabel, @fromRecord, @fromSides, @fromPart, @number, @FromTakes, @toRecord, @toSides, @toPart, @ToTakes, @decided, @finished)",
        new
        {
            identification.Id,
            job = identification.JobId.Value,
            capture = capture.Value,
            identification.FromLabel,
            fromRecord = identification.From.RecordId,
            fromSides = identification.From.Sides,
            fromPart = identification.From.Part,
            number,
            identification.FromTakes,
            toRecord = identification.To.RecordId,
            toSides = identification.To.Sides,
            toPart = identification.To.Part,
            identification.ToTakes,
            decided = Ms(identification.DecidedAt),
            finished = identification.FinishedAt is { } at ? Ms(at) : (long?)null,
        },
        transaction);
}
