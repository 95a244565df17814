using System.Collections.Immutable;

namespace Station.Daemon.Jobs.Store;

/// <summary>What the operator drops beside captures.</summary>
internal partial interface IStationStore
{
    /// <summary>Stores the sheets of a whole shelf list, all or none of them.</summary>
    Task SaveSheetsAsync(ImmutableArray<StoredSheet> sheets, CancellationToken cancellationToken);

    /// <summary>
    /// Stores what a person says about the cuts of a take; the record is made when unknown. The same again is the same: nothing changes.
    /// </summary>
    /// <returns>As it is stored, with the take it is about.</returns>
    Task<StoredCue> SaveCueAsync(StoredCue cue, CancellationToken cancellationToken);

    /// <summary>The cue sheet in force for a take; null when there is none, or it was taken back.</summary>
    /// <param name="take">The take's number; 0 for what waits for the next one.</param>
    Task<StoredCue?> CueAsync(string recordId, string side, int take, CancellationToken cancellationToken);

    /// <summary>The cue sheets in force for the takes of a side, by take.</summary>
    Task<ImmutableArray<StoredCue>> CuesAsync(string recordId, string side, CancellationToken cancellationToken);

    /// <summary>What was said about cuts and is not told in the record's history yet, or not looked at: of one record, or of all.</summary>
    Task<ImmutableArray<StoredCue>> OpenCuesAsync(string? recordId, bool untoldOnly, CancellationToken cancellationToken);

    /// <summary>Records that it is told in the record's history.</summary>
    Task CueToldAsync(StoredCue cue, CancellationToken cancellationToken);

    /// <summary>Records that the job of its take was looked at since.</summary>
    Task CueSettledAsync(StoredCue cue, CancellationToken cancellationToken);

    /// <summary>Stores the sleeve picture in force; the record is made when unknown.</summary>
    Task SaveSleeveAsync(StoredSleeve sleeve, CancellationToken cancellationToken);

    Task<StoredSleeve?> SleeveAsync(string recordId, CancellationToken cancellationToken);

    /// <summary>
    /// Queues a held job, or one that is done, again with its division and verdict and what was made of them forgotten; what came before the division
    /// stands, and so do the published copies until others are in their place.
    /// </summary>
    /// <exception cref="JobStateException">The job is neither held nor done.</exception>
    Task<Job> DivideAgainAsync(JobId id, CancellationToken cancellationToken);
}
