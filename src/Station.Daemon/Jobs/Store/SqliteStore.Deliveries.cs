using System.Collections.Immutable;
using Dapper;
using Microsoft.Data.Sqlite;

namespace Station.Daemon.Jobs.Store;

internal sealed partial class SqliteStore
{
    public Task<ImmutableArray<Alert>> NewAlertsAsync(int limit, CancellationToken cancellationToken) => ReadAsync(async connection =>
        (await connection.QueryAsync<AlertRow>(new CommandDefinition(
            $"SELECT {AlertColumns} FROM alerts WHERE state = 'pending' AND NOT EXISTS (SELECT 1 FROM alert_deliveries WHERE alert_id = alerts.id) "
            + "ORDER BY id LIMIT @limit",
            new { limit }, cancellationToken: cancellationToken))).Select(r => r.ToAlert()).ToImmutableArray());

    public Task OfferAlertAsync(string id, IReadOnlyCollection<string> receivers, CancellationToken cancellationToken) => WriteAsync(
        async (connection, transaction) =>
        {
            foreach (string receiver in receivers)
            {
                await connection.ExecuteAsync(
                    "INSERT INTO alert_deliveries (alert_id, receiver, state) VALUES (@id, @receiver, 'pending') ON CONFLICT DO NOTHING",
                    new { id, receiver }, transaction);
            }

            if (receivers.Count == 0)
            {
                await connection.ExecuteAsync(
                    "UPDATE alerts SET state = 'delivered', delivered_at = @now WHERE id = @id AND state = 'pending'",
                    new { id, now = Ms(_clock.GetUtcNow()) }, transaction);
            }

            return true;
        },
        cancellationToken);

    public Task<ImmutableArray<DueDelivery>> DueDeliveriesAsync(string receiver, DateTimeOffset now, int limit, CancellationToken cancellationToken) =>
        ReadAsync(async connection =>
        {
            List<DeliveryRow> due = (await connection.QueryAsync<DeliveryRow>(new CommandDefinition(
                $"SELECT {DeliveryColumns} FROM alert_deliveries WHERE receiver = @receiver AND state = 'pending' AND not_before <= @now ORDER BY alert_id LIMIT @limit",
                new { receiver, now = Ms(now), limit }, cancellationToken: cancellationToken))).AsList();
            Dictionary<string, Alert> alerts = (await connection.QueryAsync<AlertRow>(new CommandDefinition(
                $"SELECT {AlertColumns} FROM alerts WHERE id IN @ids", new { ids = due.ConvertAll(d => d.AlertId) }, cancellationToken: cancellationToken)))
                .ToDictionary(r => r.Id, r => r.ToAlert(), StringComparer.Ordinal);
            return due.Select(d => new DueDelivery(alerts[d.AlertId], (int)d.Attempt)).ToImmutableArray();
        });

    public Task DeliveryTryingAsync(string alertId, string receiver, CancellationToken cancellationToken) => WriteAsync(
        (connection, transaction) => connection.ExecuteAsync(
            "UPDATE alert_deliveries SET attempt = attempt + 1 WHERE alert_id = @alertId AND receiver = @receiver AND state = 'pending'",
            new { alertId, receiver }, transaction),
        cancellationToken);

    public Task DeliveryTriedAsync(
        string alertId, string receiver, AlertState state, DateTimeOffset? notBefore, string? error, CancellationToken cancellationToken) => WriteAsync(
        async (connection, transaction) =>
        {
            await connection.ExecuteAsync(
                "UPDATE alert_deliveries SET state = @state, not_before = @notBefore, last_error = coalesce(@error, last_error), delivered_at = @delivered "
                + "WHERE alert_id = @alertId AND receiver = @receiver AND state = 'pending'",
                new
                {
                    alertId,
                    receiver,
                    state = Text(state),
                    notBefore = notBefore is { } at ? Ms(at) : 0,
                    error,
                    delivered = state == AlertState.Delivered ? Ms(_clock.GetUtcNow()) : (long?)null,
                },
                transaction);
            return await SettleAlertsAsync(connection, transaction);
        },
        cancellationToken);

    public Task<int> AbandonDeliveriesAsync(string receiver, string error, CancellationToken cancellationToken) => WriteAsync(
        async (connection, transaction) =>
        {
            int count = await connection.ExecuteAsync(
                "UPDATE alert_deliveries SET state = 'abandoned', last_error = @error WHERE receiver = @receiver AND state = 'pending'",
                new { receiver, error }, transaction);
            await SettleAlertsAsync(connection, transaction);
            return count;
        },
        cancellationToken);

    public Task<ImmutableArray<string>> PendingReceiversAsync(CancellationToken cancellationToken) => ReadAsync(async connection =>
        (await connection.QueryAsync<string>(new CommandDefinition(
            "SELECT DISTINCT receiver FROM alert_deliveries WHERE state = 'pending' ORDER BY receiver", cancellationToken: cancellationToken))).ToImmutableArray());

    public Task<ImmutableArray<AlertDelivery>> DeliveriesAsync(IReadOnlyCollection<string> alertIds, CancellationToken cancellationToken) =>
        ReadAsync(async connection => (await connection.QueryAsync<DeliveryRow>(new CommandDefinition(
            $"SELECT {DeliveryColumns} FROM alert_deliveries WHERE alert_id IN @alertIds ORDER BY alert_id, receiver",
            new { alertIds }, cancellationToken: cancellationToken))).Select(r => r.ToDelivery()).ToImmutableArray());

    /// <summary>An alert is delivered when every receiver took it, and abandoned when all are through and one was given up.</summary>
    private Task<int> SettleAlertsAsync(SqliteConnection connection, SqliteTransaction transaction) => connection.ExecuteAsync(
        """
        UPDATE alerts SET
            state = CASE WHEN EXISTS (SELECT 1 FROM alert_deliveries d WHERE d.alert_id = alerts.id AND d.state = 'abandoned') THEN 'abandoned' ELSE 'delivered' END,
            delivered_at = CASE WHEN EXISTS (SELECT 1 FROM alert_deliveries d WHERE d.alert_id = alerts.id AND d.state = 'abandoned') THEN NULL ELSE @now END,
            attempt = (SELECT max(d.attempt) FROM alert_deliveries d WHERE d.alert_id = alerts.id),
            last_error = (SELECT d.last_error FROM alert_deliveries d WHERE d.alert_id = alerts.id AND d.state = 'abandoned' ORDER BY d.receiver LIMIT 1)
        WHERE state = 'pending'
            AND EXISTS (SELECT 1 FROM alert_deliveries d WHERE d.alert_id = alerts.id)
            AND NOT EXISTS (SELECT 1 FROM alert_deliveries d WHERE d.alert_id = alerts.id AND d.state = 'pending')
        """,
        new { now = Ms(_clock.GetUtcNow()) }, transaction);

    private const string DeliveryColumns =
        "alert_id AS AlertId, receiver AS Receiver, state AS State, attempt AS Attempt, not_before AS NotBefore, delivered_at AS DeliveredAt, last_error AS LastError";

    private sealed class DeliveryRow
    {
        public string AlertId { get; set; } = "";

        public string Receiver { get; set; } = "";

        public string State { get; set; } = "";

        public long Attempt { get; set; }

        public long NotBefore { get; set; }

        public long? DeliveredAt { get; set; }

        public string? LastError { get; set; }

        public AlertDelivery ToDelivery()
        {
            AlertState state = Parse<AlertState>(State);
            return new AlertDelivery(
                AlertId, Receiver, state, (int)Attempt, state == AlertState.Pending ? At(NotBefore) : null, At(DeliveredAt), LastError);
        }
    }
}
