using System.Collections.Immutable;

namespace Station.Daemon.Jobs.Store;

internal partial interface IStationStore
{
    /// <summary>Notes, for bags archived at or after <paramref name="since"/>, that a copy at <paramref name="place"/> is still to be made. Idempotent.</summary>
    /// <returns>How many were noted now.</returns>
    Task<int> ExpectCopiesAsync(string place, DateTimeOffset since, CancellationToken cancellationToken);

    /// <summary>
    /// Copies that are still to be made at a place and need not wait any longer, those never tried first. Bags whose copy in the archive is known to be damaged are left
    /// out until it is mended: nothing can be copied from them.
    /// </summary>
    Task<ImmutableArray<BagToDo>> BehindAsync(string place, DateTimeOffset now, int limit, CancellationToken cancellationToken);

    /// <summary>Counts a try to make a copy before it is begun, and when the next may follow should it fail.</summary>
    Task CopyTryingAsync(CaptureId id, string place, DateTimeOffset nextTryAt, CancellationToken cancellationToken);

    /// <summary>Forgets all waits at a place: it was away and is back, so tries that failed say nothing any more.</summary>
    Task CopiesAtOnceAsync(string place, CancellationToken cancellationToken);

    /// <summary>Has a copy read by the next audit, whenever it was read before. Nothing happens where there is none.</summary>
    Task ReadSoonAsync(CaptureId id, string place, CancellationToken cancellationToken);

    /// <summary>How many copies at a place are behind after so many tries or more.</summary>
    Task<int> CountStuckAsync(string place, int tries, CancellationToken cancellationToken);

    /// <summary>How many copies are still to be made at a place, and how many are damaged.</summary>
    Task<(int Behind, int Damaged)> CountCopiesAsync(string place, CancellationToken cancellationToken);

    /// <summary>
    /// The copy at a place whose last reading is the longest ago: before <paramref name="readBefore"/>, or before <paramref name="damagedBefore"/> for one that is
    /// damaged. Null when none is due.
    /// </summary>
    Task<BagToDo?> DueForReadingAsync(string place, DateTimeOffset readBefore, DateTimeOffset damagedBefore, CancellationToken cancellationToken);

    /// <summary>Records a copy that was proved just now.</summary>
    Task CopyProvedAsync(CaptureId id, string place, string tagManifestSha256, DateTimeOffset at, CancellationToken cancellationToken);

    /// <summary>Records a try that did not end with a proved copy: <see cref="BagCopyState.Behind"/> when there is none, <see cref="BagCopyState.Damaged"/> when there is one.</summary>
    /// <param name="nextTryAt">When the next try to make it may follow; null: as it was.</param>
    Task CopyNotProvedAsync(
        CaptureId id, string place, BagCopyState state, string problem, DateTimeOffset at, CancellationToken cancellationToken, DateTimeOffset? nextTryAt = null);

    /// <summary>
    /// Asks for an audit of these places. Asked for again while one of just these places is under way, that one is meant.
    /// </summary>
    /// <param name="places">At least one name.</param>
    /// <exception cref="AuditRefusedException">One of other places is under way, or there is no copy to be read.</exception>
    Task<AskedAudit> AskAuditAsync(ImmutableArray<string> places, DateTimeOffset at, CancellationToken cancellationToken);

    /// <summary>The audit under way at a place; null when none was asked for, or it is through there.</summary>
    Task<AskedAudit?> OpenAuditAsync(string place, CancellationToken cancellationToken);

    /// <summary>Counts a copy that was read for an audit.</summary>
    Task AuditReadAsync(string id, string place, bool damaged, bool mended, CancellationToken cancellationToken);

    /// <summary>Notes that nothing is left to be read at a place.</summary>
    Task AuditFinishedAsync(string id, string place, DateTimeOffset at, CancellationToken cancellationToken);

    /// <summary>Audits that were asked for, newest first, older than <paramref name="beforeId"/> when given.</summary>
    Task<ImmutableArray<AskedAudit>> AuditsAsync(string? beforeId, int limit, CancellationToken cancellationToken);

    /// <summary>Null when there is none with this id.</summary>
    Task<AskedAudit?> AuditAsync(string id, CancellationToken cancellationToken);

    /// <summary>How the copies stand, place by place; places that are no longer configured, too. One look at an index, however many bags there are.</summary>
    Task<ImmutableArray<CopiesAtPlace>> PlacesAsync(CancellationToken cancellationToken);

    /// <summary>Id in the marker of the archive this station writes to; null before one was noted.</summary>
    Task<Guid?> ArchiveMarkerAsync(CancellationToken cancellationToken);

    /// <summary>Notes which archive this station writes to, in place of what was noted before.</summary>
    Task NoteArchiveMarkerAsync(Guid id, DateTimeOffset at, CancellationToken cancellationToken);

    /// <summary>Bags of the captures archived last, newest first, as the database keeps them: relative to the station folder when inside it.</summary>
    Task<ImmutableArray<string>> NewestBagsAsync(int limit, CancellationToken cancellationToken);

    /// <summary>Every copy of a capture's bag.</summary>
    Task<ImmutableArray<BagCopy>> CopiesAsync(CaptureId id, CancellationToken cancellationToken);

    /// <summary>
    /// Newest jobs of captures whose dropped file is still there though enough copies of its bag are proved and nobody works on it, oldest bag first; discarded ones
    /// left out.
    /// </summary>
    Task<ImmutableArray<Job>> UnreleasedAsync(CopyPlaces places, int limit, CancellationToken cancellationToken);

    /// <summary>Records that the dropped file of an archived capture is gone from <paramref name="location"/>. Nothing happens when a worker has its job, or it lies elsewhere by now.</summary>
    Task ReleasedAsync(CaptureId id, string location, CancellationToken cancellationToken);
}
