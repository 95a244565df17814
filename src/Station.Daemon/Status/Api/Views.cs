using System.Collections.Immutable;
using Station.Audio.Findings;
using Station.Daemon.Jobs;

namespace Station.Daemon.Status.Api;

// The documents of the HTTP interface; docs/formats/http.md describes them. Times are UTC; a value that is not there is null.

/// <param name="Next">Pass as <c>before</c> to go on; null at the end.</param>
internal sealed record JobListView(ImmutableArray<JobView> Jobs, string? Next);

/// <param name="Capture">What people call the capture; unlike the id it stays when a capture is worked on again.</param>
/// <param name="NextTryAt">When a queued job is due; null when it is due now, or not queued.</param>
/// <param name="Bag">The archived capture, relative to the station folder.</param>
/// <param name="Copies">The copies of the bag, the archive's own among them.</param>
/// <param name="Report">Where the report is; null while none was written.</param>
/// <param name="Picture">Where the picture is; null while the side was not measured.</param>
internal sealed record JobView(
    string Id, string Capture, string Record, string Sides, string File, JobState State, Verdict? Verdict, string? Reason, string? AcceptedWhy, int Attempts,
    DateTimeOffset ReceivedAt, DateTimeOffset? FinishedAt, DateTimeOffset? NextTryAt, double? RecommendedChangeDb, ImmutableArray<JobTakeView> Takes,
    ImmutableArray<JobStageView> Stages, string? Bag, ImmutableArray<CopyView> Copies, string? Report, string? Picture);

internal sealed record JobTakeView(string Side, int Number, TakeState State);

/// <param name="Outcome">done, retry, failed or duplicate; null for the stage under way or to come.</param>
internal sealed record JobStageView(string Name, StageOutcomeKind? Outcome, double? Seconds);

/// <param name="Next">Pass as <c>after</c> to go on; null at the end.</param>
internal sealed record RecordListView(ImmutableArray<RecordView> Records, string? Next);

internal sealed record RecordView(string Id, string? Artist, string? Title, bool HasSheet, ImmutableArray<SideView> Sides);

/// <param name="Takes">Takes so far, void ones left out.</param>
/// <param name="CurrentTake">Number of the accepted take in force; null when none is.</param>
internal sealed record SideView(string Side, SideStanding Standing, int Takes, int? CurrentTake);

internal sealed record RecordDetailView(
    string Id, string? Artist, string? Title, bool HasSheet, ImmutableArray<SideView> Sides, ImmutableArray<TakeView> Takes);

/// <param name="Captures">Labels of the captures it is read from, in order.</param>
internal sealed record TakeView(string Side, int Number, TakeState State, DateTimeOffset? DecidedAt, string? Reason, ImmutableArray<string> Captures);

internal sealed record AlertListView(ImmutableArray<AlertView> Alerts, string? Next);

internal sealed record AlertView(
    string Id, string Type, string Subject, AlertState State, DateTimeOffset CreatedAt, string? Job, ImmutableArray<DeliveryView> Deliveries);

internal sealed record DeliveryView(
    string Receiver, AlertState State, int Attempts, DateTimeOffset? NextTryAt, DateTimeOffset? DeliveredAt, string? LastError);

internal sealed record StationView(string Name, string Version, DateTimeOffset Now, ImmutableSortedDictionary<string, int> Jobs, ImmutableArray<DiskView> Disks, ImmutableArray<PlaceView> Places);

/// <param name="Folder">A folder of the station: inbox, archive …</param>
/// <param name="FreeBytes">Free for the service's account on the folder's disk; null when the folder is not there.</param>
internal sealed record DiskView(string Folder, long? FreeBytes);

/// <param name="Why">Accept: needed, at most 1000 characters. Discard: wanted. Retry: none.</param>
internal sealed record DecisionRequest(string? Why = null);

/// <summary>One thing wrong in what was sent.</summary>
/// <param name="Line">From 1, in a cue sheet; null for JSON.</param>
/// <param name="Column">From 1.</param>
/// <param name="Member">In JSON, such as <c>starts[2]</c>; null for a cue sheet.</param>
internal sealed record BodyError(int? Line, int? Column, string? Member, string Reason);

/// <param name="As">What a capture is to be filed as: its name without the ending, such as <c>HL-0032-B</c>.</param>
internal sealed record IdentifyRequest(string? As = null);
