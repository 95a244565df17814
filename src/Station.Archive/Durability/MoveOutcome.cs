namespace Station.Archive.Durability;

/// <summary>How a file got to its new name.</summary>
public enum MoveOutcome
{
    /// <summary>Renamed on the same file system; the very same file.</summary>
    Renamed,

    /// <summary>Copied to another file system, synced, read back, found equal by SHA-256; then the source was unlinked.</summary>
    Copied,
}
