namespace Station.Archive.Bags;

/// <summary>How much of a bag is read.</summary>
public enum BagDepth
{
    /// <summary>Completeness and Payload-Oxum: every listed file is there, none is over, lengths add up. No content is read.</summary>
    Quick,

    /// <summary>All of <see cref="Quick"/>, and every digest of every manifest.</summary>
    Full,

    /// <summary>As <see cref="Full"/>, asking the kernel to read from the disk rather than from its memory: for reading back what was just written.</summary>
    FullFromDisk,
}
