using System.Collections.Immutable;

namespace Station.Daemon.Jobs.Store;

/// <summary>What the operator drops beside captures.</summary>
internal partial interface IStationStore
{
    /// <summary>Stores the sheets of a whole shelf list, all or none of them.</summary>
    Task SaveSheetsAsync(ImmutableArray<StoredSheet> sheets, CancellationToken cancellationToken);

    /// <summary>Stores the cue sheet in force for a side; the record is made when unknown.</summary>
    Task SaveCueAsync(StoredCue cue, CancellationToken cancellationToken);

    Task<StoredCue?> CueAsync(string recordId, string side, CancellationToken cancellationToken);

    /// <summary>Stores the sleeve picture in force; the record is made when unknown.</summary>
    Task SaveSleeveAsync(StoredSleeve sleeve, CancellationToken cancellationToken);

    Task<StoredSleeve?> SleeveAsync(string recordId, CancellationToken cancellationToken);

    /// <summary>Queues a held job again with its division and verdict forgotten; what came before the division stands.</summary>
    /// <exception cref="JobStateException">The job is not held.</exception>
    Task<Job> DivideAgainAsync(JobId id, CancellationToken cancellationToken);
}
