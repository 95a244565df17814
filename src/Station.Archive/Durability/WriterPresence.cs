namespace Station.Archive.Durability;

/// <summary>Whether anybody has a file open for writing.</summary>
public enum WriterPresence
{
    /// <summary>The kernel doesn't tell: not the file's owner, or a file system without leases.</summary>
    Unknown,

    /// <summary>Nobody on this machine had it open for writing at the moment of asking.</summary>
    None,

    /// <summary>Somebody has.</summary>
    Present,
}
