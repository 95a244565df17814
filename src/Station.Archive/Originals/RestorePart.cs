namespace Station.Archive.Originals;

/// <summary>One stretch of the dropped file, in order.</summary>
/// <param name="Kind">How it is kept.</param>
/// <param name="File">File it comes from, below data/ of the bag, parts separated by '/'.</param>
/// <param name="Bytes">Bytes it contributes to the dropped file, 0 or more.</param>
public sealed record RestorePart(RestorePartKind Kind, string File, long Bytes);
