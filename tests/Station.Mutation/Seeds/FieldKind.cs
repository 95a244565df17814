namespace Station.Mutation.Seeds;

/// <summary>What a field of a header is for: it decides which wrong values are worth trying.</summary>
public enum FieldKind
{
    /// <summary>A length or a count of bytes or frames.</summary>
    Size,

    /// <summary>Any other number: rate, channels, depth.</summary>
    Number,

    /// <summary>A chunk's identifier or a format's tag, signature or GUID.</summary>
    Identifier,
}
