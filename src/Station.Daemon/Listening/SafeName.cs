using System.Collections.Frozen;
using System.Globalization;
using System.Text;
using Station.Daemon.Records;

namespace Station.Daemon.Listening;

/// <summary>
/// Turns any text into one part of a path (a folder's or a file's own name) that every common file system takes, and compares such names the way
/// the least discerning of them does. Pure.
/// </summary>
internal static class SafeName
{
    /// <summary>Bytes of UTF-8 in one part of a path: the limit of the Linux file systems; others count 255 UTF-16 units, which is never less.</summary>
    public const int MaxBytes = 255;

    /// <summary>What <see cref="Of"/> fills at most, so that a counter such as <c> (12)</c> still fits.</summary>
    public const int MaxTextBytes = 240;

    // Refused by file systems of the DOS family, shares of them, or (the slash) everywhere. Replaced by what reads best in a title.
    private static readonly FrozenDictionary<int, char> Replacements = new Dictionary<int, char>
    {
        ['/'] = '-',
        ['\\'] = '-',
        [':'] = '-',
        ['|'] = '-',
        ['"'] = '\'',
        ['<'] = '(',
        ['>'] = ')',
        ['?'] = '_',
        ['*'] = '_',
    }.ToFrozenDictionary();

    /// <summary>
    /// A safe name that reads like <paramref name="text"/>: NFC; characters file systems refuse replaced; control, direction and other invisible characters
    /// dropped; white space made single blanks; no dot or blank at either end, no hyphen in front; device names get an underscore; cut at a whole
    /// character to <paramref name="maxBytes"/>. Doing it again changes nothing.
    /// </summary>
    /// <param name="text">Anything.</param>
    /// <param name="fallback">Taken when nothing is left; must be safe itself.</param>
    /// <param name="maxBytes">UTF-8 bytes, 16 to 255.</param>
    public static string Of(string text, string fallback, int maxBytes = MaxTextBytes)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(maxBytes, 16);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(maxBytes, MaxBytes);
        string name = Trim(Replace(text));
        if (TextRules.IsDeviceName(name))
        {
            int dot = name.IndexOf('.', StringComparison.Ordinal);
            name = dot < 0 ? name.TrimEnd(' ') + "_" : name[..dot].TrimEnd(' ') + "_" + name[dot..];
        }

        name = Trim(Cut(name, maxBytes));
        return name.Length == 0 ? fallback : name;
    }

    /// <summary>A safe file name: <see cref="Of"/> the text, a dot, the extension, which is never cut.</summary>
    /// <param name="extension">ASCII letters and digits, without the dot.</param>
    public static string OfFile(string text, string fallback, string extension)
    {
        if (extension.Length is 0 or > 16 || !extension.All(char.IsAsciiLetterOrDigit))
        {
            throw new ArgumentException("An extension has 1 to 16 letters or digits.", nameof(extension));
        }

        return Of(text, fallback, MaxTextBytes - 1 - extension.Length) + "." + extension;
    }

    /// <summary>True when a name is a single safe part of a path: what this class makes, with or without a counter.</summary>
    public static bool IsSafe(string name) => name.Length > 0 && name == Of(name, "", MaxBytes);

    /// <summary>The name for the n-th thing of that name: <c>Low Water.flac</c>, <c>Low Water (2).flac</c> …</summary>
    public static string Numbered(string name, int n, bool hasExtension)
    {
        if (n <= 1)
        {
            return name;
        }

        int dot = hasExtension ? name.LastIndexOf('.') : -1;
        string stem = dot < 0 ? name : name[..dot];
        string counter = string.Create(CultureInfo.InvariantCulture, $" ({n})");
        return string.Concat(stem, counter, dot < 0 ? "" : name.AsSpan(dot));
    }

    /// <summary>Names with the same key are one name to a file system that ignores case or the way accents are written.</summary>
    public static string Key(string name) =>
        (TextRules.TryNormalise(name, out string? normal) ? normal : name).ToUpperInvariant();

    private static string Replace(string text)
    {
        var result = new StringBuilder(text.Length);
        foreach (Rune rune in text.EnumerateRunes())      // half a surrogate pair comes as U+FFFD
        {
            if (Rune.IsWhiteSpace(rune))
            {
                result.Append(' ');
            }
            else if (rune == Rune.ReplacementChar)
            {
                result.Append('_');
            }
            else if (Replacements.TryGetValue(rune.Value, out char replacement))
            {
                result.Append(replacement);
            }
            else if (!TextRules.IsInvisible(rune))
            {
                result.Append(rune);
            }
        }

        return string.Join(' ', result.ToString().Normalize(NormalizationForm.FormC).Split(' ', StringSplitOptions.RemoveEmptyEntries));
    }

    // A dot in front hides a file, a hyphen in front looks like an option to programs; systems of the DOS family drop dots and blanks at the end.
    private static string Trim(string name) => name.TrimStart('.', ' ', '-').TrimEnd('.', ' ');

    private static string Cut(string name, int maxBytes)
    {
        if (Encoding.UTF8.GetByteCount(name) <= maxBytes)
        {
            return name;
        }

        int bytes = 0;
        int end = 0;
        foreach (int start in StringInfo.ParseCombiningCharacters(name))
        {
            bytes += Encoding.UTF8.GetByteCount(name.AsSpan(end, start - end));
            if (bytes > maxBytes)
            {
                break;
            }

            end = start;
        }

        // One letter with a hundred marks on it is longer than the limit by itself: then cut between the marks.
        return end > 0 ? name[..end] : CutAtRunes(name, maxBytes);
    }

    private static string CutAtRunes(string name, int maxBytes)
    {
        int bytes = 0;
        int end = 0;
        foreach (Rune rune in name.EnumerateRunes())
        {
            bytes += rune.Utf8SequenceLength;
            if (bytes > maxBytes)
            {
                break;
            }

            end += rune.Utf16SequenceLength;
        }

        return name[..end];
    }
}
