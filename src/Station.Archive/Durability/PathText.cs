using System.Globalization;
using System.Text;

namespace Station.Archive.Durability;

/// <summary>File names inside messages: one line, no control or direction-changing characters.</summary>
public static class PathText
{
    /// <summary>The name with every control, format, separator and unpaired surrogate character written as <c>\u{hex}</c>.</summary>
    public static string Printable(string name)
    {
        ArgumentNullException.ThrowIfNull(name);
        StringBuilder? text = null;
        int done = 0;
        int index = 0;
        while (index < name.Length)
        {
            bool whole = Rune.TryGetRuneAt(name, index, out Rune rune);
            int length = whole ? rune.Utf16SequenceLength : 1;
            if (!whole || MustEscape(rune))
            {
                text ??= new StringBuilder(name.Length + 16);
                text.Append(name, done, index - done);
                text.Append(CultureInfo.InvariantCulture, $"\\u{{{(whole ? rune.Value : name[index]):X4}}}");
                done = index + length;
            }

            index += length;
        }

        return text is null ? name : text.Append(name, done, name.Length - done).ToString();
    }

    private static bool MustEscape(Rune rune) => Rune.GetUnicodeCategory(rune) is UnicodeCategory.Control or UnicodeCategory.Format
        or UnicodeCategory.LineSeparator or UnicodeCategory.ParagraphSeparator or UnicodeCategory.OtherNotAssigned or UnicodeCategory.PrivateUse;
}
