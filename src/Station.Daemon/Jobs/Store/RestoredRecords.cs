using System.Collections.Immutable;

namespace Station.Daemon.Jobs.Store;

/// <summary>Records, and all that belongs to them, as found in archive and reports: what a new store is filled with.</summary>
/// <param name="Records">Ids with the time each was first heard of.</param>
/// <param name="Jobs">One for each capture, which is part of it; copies included.</param>
/// <param name="Takes">With their spans; void ones, whose numbers stay used, may have none.</param>
/// <param name="Cues">What was last said about each take; told in the history already.</param>
/// <param name="Programmes">What a capture's music is told by, in its written form.</param>
/// <param name="Identifications">With the number in the label the capture had until then.</param>
/// <param name="CopiesDue">Records whose copies' names and tags are to be looked at.</param>
internal sealed record RestoredRecords(
    ImmutableArray<(string Id, DateTimeOffset At)> Records,
    ImmutableArray<StoredSheet> Sheets,
    ImmutableArray<StoredSleeve> Sleeves,
    ImmutableArray<Job> Jobs,
    ImmutableArray<Take> Takes,
    ImmutableArray<StoredCue> Cues,
    ImmutableArray<(CaptureId Capture, byte[] Fingerprint)> Programmes,
    ImmutableArray<(Identification Identification, int FromNumber)> Identifications,
    ImmutableArray<PublishedCopies> Published,
    ImmutableArray<string> CopiesDue);
