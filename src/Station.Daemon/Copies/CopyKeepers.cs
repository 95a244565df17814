using System.Collections.Immutable;
using Microsoft.Extensions.Logging;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Reporting;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Copies;

/// <summary>One keeper a replica and one audit a place, for as long as the service runs: what they remember between rounds saves looking twice.</summary>
internal sealed class CopyKeepers(
    CopyPlaceList places, IStationStore store, RecordHistory history, ReportWriter reports, PlaceWatch watch, CopiesOptions options, TimeProvider clock, ILoggerFactory logs)
{
    private readonly ImmutableDictionary<string, ReplicaKeeper> _replicas = places.Replicas.ToImmutableDictionary(
        p => p.Name, p => new ReplicaKeeper(p, places.Archive, store, history, reports, watch, clock, logs.CreateLogger<ReplicaKeeper>()), StringComparer.Ordinal);

    private readonly ImmutableDictionary<string, Audit> _audits = places.All.ToImmutableDictionary(
        p => p.Name, p => new Audit(p, places, store, history, watch, options, clock, logs.CreateLogger<Audit>()), StringComparer.Ordinal);

    public ReplicaKeeper Replica(string place) => _replicas[place];

    public Audit Audit(string place) => _audits[place];
}
