namespace Station.Daemon.Jobs;

/// <summary>One copy of an archived capture's bag, as the store knows it.</summary>
/// <param name="Place">See <see cref="CopyPlaces"/>.</param>
/// <param name="TagManifestSha256">Digest of the bag's tag manifest when the copy was proved, lower-case hex; null until it was.</param>
/// <param name="VerifiedAt">The last reading that found every byte right; null when there was none.</param>
/// <param name="LookedAt">The last try to make or read it; null when there was none.</param>
/// <param name="Problem">What that try found wrong; null when nothing.</param>
/// <param name="Tries">Tries to make it since the last that ended with a proved copy.</param>
internal sealed record BagCopy(
    string Place, BagCopyState State, string? TagManifestSha256, DateTimeOffset? VerifiedAt, DateTimeOffset? LookedAt, string? Problem, int Tries = 0);

/// <summary>How a copy stands.</summary>
internal enum BagCopyState
{
    /// <summary>Still to be made.</summary>
    Behind,

    /// <summary>The last reading found every byte right.</summary>
    Verified,

    /// <summary>The last reading did not.</summary>
    Damaged,
}

/// <summary>A bag and one of its copies: what is to be done next.</summary>
internal sealed record BagToDo(Capture Capture, BagCopy Copy);

/// <summary>Where bags are to lie, and how many proved copies let the dropped file go.</summary>
/// <param name="Replicas">Names of the replicas; the archive itself is not among them.</param>
/// <param name="BeforeRelease">Proved copies, the archive's own counted, before the dropped file is removed: 1 and up.</param>
internal sealed record CopyPlaces(System.Collections.Immutable.ImmutableArray<string> Replicas, int BeforeRelease)
{
    /// <summary>The name of the archive's own copy. No replica may be called so.</summary>
    public const string Archive = Configuration.StationFolders.ArchiveMarkerName;

    /// <summary>No replicas: the bag in the archive is enough.</summary>
    public static CopyPlaces ArchiveOnly { get; } = new([], 1);

    /// <summary>Are so many copies proved that the dropped file may go? Copies at places that are no longer configured don't count.</summary>
    public bool AreEnough(IEnumerable<BagCopy> copies) =>
        copies.Count(c => c.State == BagCopyState.Verified && (c.Place == Archive || Replicas.Contains(c.Place))) >= BeforeRelease;
}
