namespace Station.Archive.Bags;

/// <summary>What is wrong with a file of a bag.</summary>
public enum BagFaultKind
{
    /// <summary>Listed or required, but not there.</summary>
    Missing,

    /// <summary>Content does not have the digest a manifest gives, or the payload is not as large as Payload-Oxum says.</summary>
    Altered,

    /// <summary>In data/, but in no payload manifest.</summary>
    Unexpected,

    /// <summary>In one payload manifest, but not in another.</summary>
    Unlisted,

    /// <summary>Listed twice in one manifest.</summary>
    Duplicate,

    /// <summary>A tag file that does not follow the format.</summary>
    Malformed,

    /// <summary>A path that leads out of the bag, or a link, pipe, socket or device inside it. Never opened.</summary>
    Unsafe,

    /// <summary>Version, character encoding or digest algorithm this reader does not know: the bag cannot be judged.</summary>
    Unsupported,

    /// <summary>The disk or the permissions do not let it be read.</summary>
    Unreadable,
}
