using Microsoft.Extensions.Logging;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Copies;

/// <summary>
/// Is a place there? That it is not is said once in the log, and to a person when it stays so for three looks; that it is back, once. Trouble with single bags is told of
/// at most hourly a place.
/// </summary>
internal sealed class PlaceWatch(IStationStore store, TimeProvider clock, ILogger<PlaceWatch> log)
{
    private const int LooksBeforeAlert = 3;
    private static readonly TimeSpan BetweenAlerts = TimeSpan.FromHours(1);

    private readonly Dictionary<string, Standing> _standing = new(StringComparer.Ordinal);
    private readonly Lock _lock = new();

    /// <summary>Looks at a place; false when nothing may be read or written there.</summary>
    public async Task<bool> IsReadyAsync(CopyPlace place, CancellationToken cancellationToken)
    {
        string? why = place.WhyNotReady();
        (bool first, bool alert, bool back) = Note(place.Name, why);
        if (first)
        {
            log.PlaceMissing(place.Name, why!);
        }

        if (alert)
        {
            await store.RaiseAlertAsync(CopyAlerts.Missing(place, why!), cancellationToken);
        }

        if (back)
        {
            log.PlaceBack(place.Name);
            await store.RaiseAlertAsync(CopyAlerts.Back(place), cancellationToken);
        }

        return why is null;
    }

    /// <summary>What is known of a place since the last look; null when it was ready, or never looked at.</summary>
    public string? Problem(string place)
    {
        lock (_lock)
        {
            return _standing.GetValueOrDefault(place)?.Why;
        }
    }

    /// <summary>A bag could not be copied though the place is there, and that three times or more.</summary>
    public async Task TroubleAsync(CopyPlace place, Capture capture, string problem, CancellationToken cancellationToken)
    {
        lock (_lock)
        {
            Standing standing = Of(place.Name);
            if (standing.TroubleToldAt is { } told && clock.GetUtcNow() - told < BetweenAlerts)
            {
                return;
            }

            standing.TroubleToldAt = clock.GetUtcNow();
        }

        await store.RaiseAlertAsync(CopyAlerts.NotCopied(place, capture, problem), cancellationToken);
    }

    private (bool First, bool Alert, bool Back) Note(string place, string? why)
    {
        lock (_lock)
        {
            Standing standing = Of(place);
            bool first = why is not null && why != standing.Why;
            bool back = why is null && standing.Told;
            standing.Looks = why is null ? 0 : standing.Looks + 1;
            bool alert = why is not null && standing.Looks == LooksBeforeAlert && !standing.Told;
            standing.Told = why is not null && (standing.Told || alert);
            standing.Why = why;
            return (first, alert, back);
        }
    }

    private Standing Of(string place) => _standing.TryGetValue(place, out Standing? standing) ? standing : _standing[place] = new Standing();

    private sealed class Standing
    {
        public string? Why { get; set; }

        public int Looks { get; set; }

        public bool Told { get; set; }

        public DateTimeOffset? TroubleToldAt { get; set; }
    }
}
