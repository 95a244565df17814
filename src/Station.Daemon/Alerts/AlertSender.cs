using System.Collections.Immutable;
using Microsoft.Extensions.Logging;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Alerts;

/// <summary>
/// Takes alerts out of the outbox: each is written to the log once, then handed to every receiver that wants it. Progress is kept per
/// receiver in the store, and a try is counted before it is made: after a stop an alert may come twice, with the same id, but never gets lost.
/// </summary>
internal sealed class AlertSender
{
    private const int AlertsPerRound = 100;

    private readonly IStationStore _store;
    private readonly ILogger<AlertSender> _log;
    private readonly ImmutableArray<ReceiverLane> _lanes;
    private bool _removedReceiversDone;

    /// <param name="receivers">Those in force; what is still open for others is given up.</param>
    public AlertSender(
        ImmutableArray<WebhookReceiver> receivers, IStationStore store, WebhookClient client, StationOptions station, TimeProvider clock, ILogger<AlertSender> log)
    {
        _store = store;
        _log = log;
        var jitter = new Random(Environment.ProcessId);
        _lanes = [.. receivers.Select(r => new ReceiverLane(r, store, client, station, clock, jitter, log))];
    }

    /// <summary>One round. Called about once a second, never twice at a time.</summary>
    public async Task RunAsync(CancellationToken cancellationToken)
    {
        if (!_removedReceiversDone)
        {
            await GiveUpRemovedReceiversAsync(cancellationToken);
            _removedReceiversDone = true;
        }

        await OfferNewAlertsAsync(cancellationToken);
        await Task.WhenAll(_lanes.Select(lane => lane.RunAsync(cancellationToken)));
    }

    private async Task OfferNewAlertsAsync(CancellationToken cancellationToken)
    {
        foreach (Alert alert in await _store.NewAlertsAsync(AlertsPerRound, cancellationToken))
        {
            _log.News(VisibleText.Of(alert.Subject), alert.Id, alert.Type);
            await _store.OfferAlertAsync(alert.Id, [.. _lanes.Where(l => l.Wants(alert.Type)).Select(l => l.Name)], cancellationToken);
        }
    }

    private async Task GiveUpRemovedReceiversAsync(CancellationToken cancellationToken)
    {
        foreach (string receiver in await _store.PendingReceiversAsync(cancellationToken))
        {
            if (!_lanes.Any(l => string.Equals(l.Name, receiver, StringComparison.Ordinal)))
            {
                int count = await _store.AbandonDeliveriesAsync(receiver, "The receiver is no longer configured.", cancellationToken);
                _log.ReceiverRemoved(count, receiver);
            }
        }
    }
}
