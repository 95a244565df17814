using System.Collections.Immutable;
using Station.Daemon.Jobs;

namespace Station.Daemon.Status.Api;

/// <param name="Next">Pass as <c>before</c> to go on; null at the end.</param>
internal sealed record AuditListView(ImmutableArray<AuditView> Audits, string? Next);

/// <param name="State">running or finished.</param>
internal sealed record AuditView(string Id, string State, DateTimeOffset AskedAt, DateTimeOffset? FinishedAt, ImmutableArray<AuditPlaceView> Places)
{
    public static AuditView Of(AskedAudit audit) => new(
        audit.Id, StateOf(audit.FinishedAt), audit.AskedAt, audit.FinishedAt,
        [.. audit.Places.Select(p => new AuditPlaceView(p.Place, StateOf(p.FinishedAt), p.FinishedAt, p.CopiesRead, p.Damaged, p.Mended))]);

    private static string StateOf(DateTimeOffset? finishedAt) => finishedAt is null ? "running" : "finished";
}

/// <param name="Damaged">How many of the copies that were read.</param>
/// <param name="Mended">How many of the damaged ones were replaced from a good copy.</param>
internal sealed record AuditPlaceView(string Place, string State, DateTimeOffset? FinishedAt, int CopiesRead, int Damaged, int Mended);

/// <param name="Place">The archive or one replica; null for all.</param>
internal sealed record AuditRequest(string? Place = null);

/// <summary>One copy of a capture's bag.</summary>
/// <param name="State">behind: still to be made; verified: the last reading found every byte right; damaged: it did not.</param>
/// <param name="VerifiedAt">The last reading that found every byte right.</param>
/// <param name="LookedAt">The last try to make or read it.</param>
internal sealed record CopyView(string Place, BagCopyState State, DateTimeOffset? VerifiedAt, DateTimeOffset? LookedAt);

/// <summary>How the copies at a place stand.</summary>
internal sealed record PlaceView(string Place, int Verified, int Behind, int Damaged, DateTimeOffset? OldestReadingAt);
