using System.Globalization;
using System.Text;
using Station.Daemon.Records;

namespace Station.Fuzz;

/// <summary>What an error of a text file owes its writer.</summary>
internal static class Lines
{
    public static void Check(IReadOnlyList<SheetError> errors, IEnumerable<string> lines)
    {
        if (errors.Any(e => e.Line < 1 || e.Column < 1 || string.IsNullOrWhiteSpace(e.Message)))
        {
            throw new BrokenPromiseException("an error without a place or a message");
        }

        foreach (string line in lines)
        {
            foreach (Rune rune in line.EnumerateRunes())
            {
                if (Rune.GetUnicodeCategory(rune)
                    is UnicodeCategory.Control or UnicodeCategory.Format or UnicodeCategory.LineSeparator or UnicodeCategory.ParagraphSeparator)
                {
                    throw new BrokenPromiseException(FormattableString.Invariant($"an error holds U+{rune.Value:X4}"));
                }
            }
        }
    }
}
