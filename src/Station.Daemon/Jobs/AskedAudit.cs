using System.Collections.Immutable;

namespace Station.Daemon.Jobs;

/// <summary>An audit a person asked for: every copy at its places is read that was not read since.</summary>
/// <param name="Id">A UUID of version 7: ids sort by age.</param>
/// <param name="Places">At least one, by name.</param>
internal sealed record AskedAudit(string Id, DateTimeOffset AskedAt, ImmutableArray<AuditAtPlace> Places)
{
    /// <summary>When the last place was through; null while one is not.</summary>
    public DateTimeOffset? FinishedAt => Places.All(p => p.FinishedAt is not null) ? Places.Max(p => p.FinishedAt) : null;
}

/// <summary>What became of it at one place.</summary>
/// <param name="FinishedAt">When nothing was left to be read there; null before that.</param>
/// <param name="CopiesRead">0 and up.</param>
/// <param name="Damaged">How many of these were damaged.</param>
/// <param name="Mended">How many of the damaged ones were replaced from a good copy.</param>
internal sealed record AuditAtPlace(string Place, DateTimeOffset? FinishedAt, int CopiesRead, int Damaged, int Mended);

/// <summary>How the copies at one place stand.</summary>
/// <param name="OldestReadingAt">When the copy that was not read for the longest time was read last; null when none was read.</param>
internal sealed record CopiesAtPlace(string Place, int Verified, int Behind, int Damaged, DateTimeOffset? OldestReadingAt);

/// <summary>An audit can't be asked for now; the message says why.</summary>
internal sealed class AuditRefusedException(string message) : Exception(message);
