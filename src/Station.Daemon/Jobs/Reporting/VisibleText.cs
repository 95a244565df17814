using System.Buffers;
using System.Globalization;
using System.Text;

namespace Station.Daemon.Jobs.Reporting;

/// <summary>
/// Makes foreign text (file names, titles, error messages) safe to show on one line: control characters, line breaks, unpaired surrogates
/// and characters that turn the direction of writing are shown as <c>\uXXXX</c>. Letters of every script stay as they are.
/// </summary>
internal static class VisibleText
{
    /// <summary>Unicode 15 UAX #9, table of explicit directional formatting characters, with the line and paragraph separators.</summary>
    private static readonly SearchValues<char> Turning =
        SearchValues.Create("\u061C\u200E\u200F\u2028\u2029\u202A\u202B\u202C\u202D\u202E\u2066\u2067\u2068\u2069\uFEFF\uFFFE\uFFFF");

    public static string Of(string text)
    {
        StringBuilder? made = null;
        for (int i = 0; i < text.Length; i++)
        {
            char c = text[i];
            if (char.IsHighSurrogate(c) && i + 1 < text.Length && char.IsLowSurrogate(text[i + 1]))
            {
                i++;
                made?.Append(c).Append(text[i]);
            }
            else if (char.IsControl(c) || char.IsSurrogate(c) || Turning.Contains(c))
            {
                made ??= new StringBuilder(text, 0, i, text.Length + 16);
                made.Append(CultureInfo.InvariantCulture, $"\\u{(int)c:X4}");
            }
            else
            {
                made?.Append(c);
            }
        }

        return made?.ToString() ?? text;
    }

    /// <summary>The same, cut to <paramref name="length"/> text elements with an ellipsis when it is longer.</summary>
    public static string Of(string text, int length)
    {
        var elements = new StringInfo(Of(text));
        return elements.LengthInTextElements <= length ? elements.String : elements.SubstringByTextElements(0, length - 1).TrimEnd() + "…";
    }
}
