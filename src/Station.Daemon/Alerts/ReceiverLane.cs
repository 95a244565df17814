using System.Globalization;
using Microsoft.Extensions.Logging;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Alerts;

/// <summary>
/// Hands due alerts to one receiver, one after the other. A failed try ends the round: a receiver that does not answer costs one
/// time-out a round, and never holds up another receiver.
/// </summary>
internal sealed class ReceiverLane(
    WebhookReceiver receiver, IStationStore store, WebhookClient client, StationOptions station, TimeProvider clock, Random jitter, ILogger log)
{
    private const int AlertsPerRound = 50;

    /// <summary>The pause after 429, 502 or 504 when the receiver asks for none itself (own choice).</summary>
    private static readonly TimeSpan DefaultPause = TimeSpan.FromSeconds(60);

    private DateTimeOffset _pausedUntil = DateTimeOffset.MinValue;

    public string Name => receiver.Name;

    /// <summary>True once the receiver answered 410.</summary>
    public bool IsGone { get; private set; }

    public bool Wants(string type) => receiver.Wants(type);

    public async Task RunAsync(CancellationToken cancellationToken)
    {
        DateTimeOffset now = clock.GetUtcNow();
        if (now < _pausedUntil)
        {
            return;
        }

        foreach (DueDelivery due in await store.DueDeliveriesAsync(receiver.Name, now, AlertsPerRound, cancellationToken))
        {
            if (IsGone)
            {
                await store.AbandonDeliveriesAsync(receiver.Name, "The receiver answered 410 earlier: nothing more is sent to it.", cancellationToken);
                return;
            }

            if (!await TryAsync(due, cancellationToken))
            {
                return;
            }
        }
    }

    /// <returns>True when the next alert may be tried at once.</returns>
    private async Task<bool> TryAsync(DueDelivery due, CancellationToken cancellationToken)
    {
        Alert alert = due.Alert;
        int attempt = due.Attempt + 1;
        if (attempt > RetryTable.Waits.Length)
        {
            // The last allowed try was counted but its end never recorded: the process stopped in it.
            await GiveUpAsync(alert, due.Attempt, "the last try was cut short by a stop", cancellationToken);
            return true;
        }

        await store.DeliveryTryingAsync(alert.Id, receiver.Name, cancellationToken);
        switch (await client.SendAsync(receiver, alert.Id, AlertMessage.Body(alert, station.Name), cancellationToken))
        {
            case WebhookAnswer.Taken:
                await store.DeliveryTriedAsync(alert.Id, receiver.Name, AlertState.Delivered, notBefore: null, error: null, CancellationToken.None);
                log.Taken(alert.Id, receiver.Name, attempt);
                return true;
            case WebhookAnswer.Gone:
                IsGone = true;
                int count = await store.AbandonDeliveriesAsync(receiver.Name, "The receiver answered 410: it wants nothing more.", CancellationToken.None);
                log.ReceiverGone(receiver.Name, count);
                return false;
            case WebhookAnswer.Failed failed:
                await FailedAsync(alert, attempt, failed);
                return false;
            default:
                throw new System.Diagnostics.UnreachableException();
        }
    }

    private async Task FailedAsync(Alert alert, int attempt, WebhookAnswer.Failed failed)
    {
        if (failed.SlowDown)
        {
            TimeSpan pause = failed.RetryAfter ?? DefaultPause;
            pause = pause > RetryTable.LongestWait ? RetryTable.LongestWait : pause;
            _pausedUntil = clock.GetUtcNow() + pause;
            log.SlowDown(receiver.Name, pause.TotalSeconds);
        }

        if (RetryTable.After(attempt, failed.RetryAfter, NextJitter()) is not { } wait)
        {
            await GiveUpAsync(alert, attempt, failed.Reason, CancellationToken.None);
            return;
        }

        await store.DeliveryTriedAsync(alert.Id, receiver.Name, AlertState.Pending, clock.GetUtcNow() + wait, failed.Reason, CancellationToken.None);
        log.NotTaken(alert.Id, receiver.Name, attempt, failed.Reason, wait.TotalSeconds);
    }

    private async Task GiveUpAsync(Alert alert, int attempt, string reason, CancellationToken cancellationToken)
    {
        string error = string.Create(CultureInfo.InvariantCulture, $"Given up after {attempt} tries: {reason}.");
        await store.DeliveryTriedAsync(alert.Id, receiver.Name, AlertState.Abandoned, notBefore: null, error, cancellationToken);
        log.GivenUp(alert.Id, receiver.Name, attempt, reason);
    }

    private double NextJitter()
    {
        lock (jitter)
        {
            return jitter.NextDouble();
        }
    }
}
