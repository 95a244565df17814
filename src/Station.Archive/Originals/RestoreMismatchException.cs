using Station.Archive.Durability;

namespace Station.Archive.Originals;

/// <summary>What was put together is not the file that was dropped. Nothing was left under the output name.</summary>
public sealed class RestoreMismatchException(string bag, string part, string expected, string found)
    : IOException($"{PathText.Printable(bag)}: {PathText.Printable(part)}: expected {expected}, found {found}")
{
    /// <summary>The bag.</summary>
    public string Bag { get; } = bag;
}
