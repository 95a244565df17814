using System.Collections.Immutable;
using Dapper;
using Microsoft.Data.Sqlite;

namespace Station.Daemon.Jobs.Store;

internal sealed partial class SqliteStore
{
    private const string AlertColumns =
        "id AS Id, type AS Type, job_id AS JobId, subject AS Subject, body AS Body, created_at AS CreatedAt, state AS State, attempt AS Attempt, "
        + "not_before AS NotBefore, delivered_at AS DeliveredAt, last_error AS LastError";

    public Task<ImmutableArray<Alert>> AlertsAsync(string? beforeId, int limit, CancellationToken cancellationToken) => ReadAsync(async connection =>
        (await connection.QueryAsync<AlertRow>(new CommandDefinition(
            $"SELECT {AlertColumns} FROM alerts WHERE (@beforeId IS NULL OR id < @beforeId) ORDER BY id DESC LIMIT @limit",
            new { beforeId, limit = Math.Clamp(limit, 1, 500) }, cancellationToken: cancellationToken))).Select(r => r.ToAlert()).ToImmutableArray());

    public Task RaiseAlertAsync(AlertDraft alert, CancellationToken cancellationToken) => WriteAsync(
        async (connection, transaction) =>
        {
            await AddAlertsAsync(connection, transaction, jobId: null, [alert]);
            return true;
        },
        cancellationToken);

    public Task<Alert?> NewestAlertAsync(IReadOnlyCollection<string> types, CancellationToken cancellationToken) => ReadAsync(async connection =>
        (await connection.QueryFirstOrDefaultAsync<AlertRow>(new CommandDefinition(
            $"SELECT {AlertColumns} FROM alerts WHERE type IN @types ORDER BY rowid DESC LIMIT 1", new { types }, cancellationToken: cancellationToken)))?.ToAlert());

    private async Task AddAlertsAsync(SqliteConnection connection, SqliteTransaction transaction, JobId? jobId, IReadOnlyCollection<AlertDraft> alerts)
    {
        foreach (AlertDraft alert in alerts)
        {
            DateTimeOffset now = _clock.GetUtcNow();
            await connection.ExecuteAsync(
                "INSERT INTO alerts (id, type, job_id, subject, body, created_at, state) VALUES (@id, @Type, @jobId, @Subject, @body, @now, 'pending')",
                new
                {
                    // Standard Webhooks 1.0.0: an id without a full stop, the same on every try.
                    id = "msg_" + Guid.CreateVersion7(now).ToString("N"),
                    alert.Type,
                    jobId = jobId?.Value,
                    alert.Subject,
                    body = alert.Data.ToJsonString(Reporting.ReportJson.Compact),
                    now = Ms(now),
                },
                transaction);
        }
    }

    private sealed class AlertRow
    {
        public string Id { get; set; } = "";

        public string Type { get; set; } = "";

        public string? JobId { get; set; }

        public string Subject { get; set; } = "";

        public string Body { get; set; } = "";

        public long CreatedAt { get; set; }

        public string State { get; set; } = "";

        public long Attempt { get; set; }

        public long NotBefore { get; set; }

        public long? DeliveredAt { get; set; }

        public string? LastError { get; set; }

        public Alert ToAlert() => new()
        {
            Id = Id,
            Type = Type,
            JobId = JobId is null ? null : new JobId(JobId),
            Subject = Subject,
            Body = Body,
            CreatedAt = At(CreatedAt),
            State = Parse<AlertState>(State),
            Attempt = (int)Attempt,
            NotBefore = NotBefore == 0 ? null : At(NotBefore),
            DeliveredAt = At(DeliveredAt),
            LastError = LastError,
        };
    }
}
