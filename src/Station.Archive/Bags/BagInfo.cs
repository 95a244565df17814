namespace Station.Archive.Bags;

/// <summary>What bag-info.txt says (RFC 8493 §2.2.2), without Payload-Oxum, which the writer counts itself.</summary>
public sealed record BagInfo
{
    /// <summary>External-Identifier: the identifier the sender gives the bag.</summary>
    public required string ExternalIdentifier { get; init; }

    /// <summary>External-Description: what the bag holds.</summary>
    public string? ExternalDescription { get; init; }

    /// <summary>Source-Organization.</summary>
    public string? SourceOrganization { get; init; }

    /// <summary>Bagging-Date, the day the content was put in.</summary>
    public required DateOnly BaggingDate { get; init; }

    /// <summary>Bag-Software-Agent: name and version of the program that wrote the bag.</summary>
    public required string BagSoftwareAgent { get; init; }

    /// <summary>Bag-Group-Identifier: shared by bags that belong together.</summary>
    public string? BagGroupIdentifier { get; init; }

    /// <summary>Further elements in order; a label may repeat. Line breaks in a value become continuation lines.</summary>
    public IReadOnlyList<(string Label, string Value)> Additional { get; init; } = [];
}
