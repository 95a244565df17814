using System.Collections.Immutable;

namespace Station.Daemon.Jobs.Store;

/// <summary>Where listening copies lie, and whose names and tags may have changed.</summary>
internal partial interface IStationStore
{
    /// <summary>Records that a side's copies are in place. The record's copies are looked at again: the gain of the whole record may have changed.</summary>
    Task SidePublishedAsync(PublishedCopies side, CancellationToken cancellationToken);

    /// <summary>Forgets a side's copies, as far as they are this job's.</summary>
    Task SideWithdrawnAsync(string recordId, string side, JobId job, CancellationToken cancellationToken);

    /// <summary>The published sides of a record, by letter.</summary>
    Task<ImmutableArray<PublishedCopies>> PublishedSidesAsync(string recordId, CancellationToken cancellationToken);

    /// <summary>Records whose copies are to be looked at, with what to give back to <see cref="CopiesLookedAtAsync"/>.</summary>
    Task<ImmutableArray<(string RecordId, long Seen)>> CopiesDueAsync(int limit, CancellationToken cancellationToken);

    /// <summary>Nothing is due any more, unless something came after <paramref name="seen"/>.</summary>
    Task CopiesLookedAtAsync(string recordId, long seen, CancellationToken cancellationToken);

    /// <summary>Queues a job that is done again for its copies alone; they stay in place until the new ones are.</summary>
    /// <exception cref="JobStateException">The job is not done.</exception>
    Task<Job> PublishAgainAsync(JobId id, CancellationToken cancellationToken);
}

/// <summary>A side's copies in <c>listening/</c>.</summary>
/// <param name="Folder">Below <c>listening/</c>, <c>/</c> between its two parts.</param>
/// <param name="Blocks">How often each loudness occurs (<see cref="Station.Audio.Meters.LoudnessBlocks"/>).</param>
/// <param name="Peak">Largest sample, linear; null when not known.</param>
internal sealed record PublishedCopies(string RecordId, string Side, JobId Job, string Folder, string Blocks, double? Peak);
