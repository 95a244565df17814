using System.Text.Json.Serialization;

namespace Station.Archive.Originals;

/// <summary>One stretch of the dropped file, in order.</summary>
/// <param name="Kind">How it is kept.</param>
/// <param name="File">File it comes from, below data/ of the bag, parts separated by '/'.</param>
/// <param name="Bytes">Bytes it contributes to the dropped file, 0 or more.</param>
/// <param name="ReversedWordBytes">
/// For <see cref="RestorePartKind.Words"/> of a file that stores the most significant byte first: bytes of one word, 2 to 8; the bytes of
/// each decoded word are reversed. 0, and left out of the text, when they are taken as decoded.
/// </param>
public sealed record RestorePart(
    RestorePartKind Kind,
    string File,
    long Bytes,
    [property: JsonIgnore(Condition = JsonIgnoreCondition.WhenWritingDefault)] int ReversedWordBytes = 0);
