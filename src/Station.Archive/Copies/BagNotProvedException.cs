using Station.Archive.Bags;
using Station.Archive.Durability;

namespace Station.Archive.Copies;

/// <summary>A bag did not prove to be what it should be: nothing was published, nothing was replaced.</summary>
/// <param name="bag">Folder that was checked.</param>
/// <param name="reason">What was expected and what was found.</param>
public sealed class BagNotProvedException(string bag, string reason) : IOException($"{PathText.Printable(bag)}: {reason}")
{
    /// <summary>Folder that was checked.</summary>
    public string Bag { get; } = bag;

    /// <summary>The first fault, or the first warning, of a check that should have had none.</summary>
    internal static string FirstOf(BagCheck check) =>
        check.IsValid ? check.Warnings[0] : $"{PathText.Printable(check.Faults[0].File)}: {check.Faults[0].Message}";
}
