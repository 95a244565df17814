using System.Collections.Immutable;
using Station.Daemon.Records;

namespace Station.Daemon.Jobs.Store;

/// <summary>A capture that intake has moved into <c>working/&lt;job&gt;/capture/</c>.</summary>
internal sealed record NewCapture(
    JobId JobId, string FileName, string RecordId, string Sides, int? Part, bool SideAssumed, long Bytes, string Location,
    DateTimeOffset ReceivedAt);

/// <param name="FileName">The sheet's own file, or the shelf list it came in.</param>
/// <param name="Yaml">The sheet as dropped; from a shelf list, in the one form the service writes.</param>
internal sealed record StoredSheet(string RecordId, string FileName, string Yaml, string? Artist, string? Title, DateTimeOffset At)
{
    /// <summary>It came in a shelf list; a sheet of the record's own is stronger.</summary>
    public bool IsFromList => CaptureName.Parse(FileName) is CaptureName.ShelfList;
}

/// <summary>What a stage learned about the capture itself.</summary>
internal sealed record CaptureFacts(string? Sha256 = null, long? Frames = null, int? SampleRateHz = null, string? Bag = null, DateTimeOffset? ArchivedAt = null,
    ImmutableArray<SideSpan>? Spans = null, string? TagManifestSha256 = null);

/// <param name="Before">Only jobs older than this one.</param>
/// <param name="Limit">1 to 500.</param>
internal sealed record JobQuery(JobId? Before = null, int Limit = 50, JobState? State = null, string? RecordId = null);

internal sealed record RecordSummary(string Id, string? Artist, string? Title, bool HasSheet, ImmutableArray<SideSummary> Sides);

/// <param name="Newest">State of the newest take that was not void.</param>
/// <param name="Current">Number of the accepted take in force; null when none is.</param>
internal sealed record SideSummary(string Side, int Takes, TakeState Newest, int? Current);

/// <summary>What was asked doesn't fit the job's state.</summary>
internal sealed class JobStateException(JobId id, JobState state, string wanted)
    : InvalidOperationException($"Job {id} is {state.ToString().ToLowerInvariant()}: it can't be {wanted}.")
{
    public JobState State { get; } = state;
}

/// <summary>No such job.</summary>
internal sealed class JobNotFoundException(string id) : InvalidOperationException($"There is no job or capture '{id}'.")
{
}
