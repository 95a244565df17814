using System.Diagnostics.CodeAnalysis;
using System.Globalization;
using System.Text;

namespace Station.Daemon.Records;

/// <summary>What several kinds of names and texts have in common: normalisation, characters nobody can see, names other systems reserve.</summary>
internal static class TextRules
{
    // The device names of the DOS family, as documented for naming files on Windows ("Naming Files, Paths, and Namespaces"):
    // also with an extension, and with the superscript digits 1 to 3.
    private static readonly HashSet<string> DeviceNames = new(StringComparer.OrdinalIgnoreCase)
    {
        "CON", "PRN", "AUX", "NUL", "CONIN$", "CONOUT$", "CLOCK$",
        "COM0", "COM1", "COM2", "COM3", "COM4", "COM5", "COM6", "COM7", "COM8", "COM9", "COM¹", "COM²", "COM³",
        "LPT0", "LPT1", "LPT2", "LPT3", "LPT4", "LPT5", "LPT6", "LPT7", "LPT8", "LPT9", "LPT¹", "LPT²", "LPT³",
    };

    /// <summary>Unicode NFC; false when the text holds half of a surrogate pair and so is no Unicode text at all.</summary>
    public static bool TryNormalise(string text, [NotNullWhen(true)] out string? normal)
    {
        try
        {
            normal = text.Normalize(NormalizationForm.FormC);
            return true;
        }
        catch (ArgumentException)
        {
            normal = null;
            return false;
        }
    }

    /// <summary>True for a name whose part before the first dot is a device on systems of the DOS family, such as <c>nul.txt</c>.</summary>
    public static bool IsDeviceName(string name)
    {
        int dot = name.IndexOf('.', StringComparison.Ordinal);
        return DeviceNames.Contains((dot < 0 ? name : name[..dot]).TrimEnd(' '));
    }

    /// <summary>Control characters, direction overrides and other marks without a glyph, line separators, and code points that are no characters.</summary>
    public static bool IsInvisible(Rune rune) => Rune.GetUnicodeCategory(rune) is UnicodeCategory.Control or UnicodeCategory.Format
        or UnicodeCategory.LineSeparator or UnicodeCategory.ParagraphSeparator or UnicodeCategory.OtherNotAssigned or UnicodeCategory.Surrogate;

    /// <summary>A character for a message: in quotes when it can be seen, as <c>U+202E</c> when it can't.</summary>
    public static string Show(Rune rune) => IsInvisible(rune) || Rune.IsWhiteSpace(rune)
        ? string.Create(CultureInfo.InvariantCulture, $"U+{rune.Value:X4}")
        : $"'{rune}'";

    /// <summary>Text taken from a file, made fit to stand in a one-line message: invisible characters as <c>U+…</c>, at most 60 characters.</summary>
    public static string Quote(string text)
    {
        var shown = new StringBuilder("\"");
        int count = 0;
        foreach (Rune rune in text.EnumerateRunes())
        {
            if (count++ == 60)
            {
                shown.Append('…');
                break;
            }

            if (IsInvisible(rune))
            {
                shown.Append(CultureInfo.InvariantCulture, $"U+{rune.Value:X4}");
            }
            else
            {
                shown.Append(rune);
            }
        }

        return shown.Append('"').ToString();
    }
}
