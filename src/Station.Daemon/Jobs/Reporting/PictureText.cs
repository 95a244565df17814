using System.Collections.Immutable;
using System.Globalization;
using System.Security;
using System.Text;

namespace Station.Daemon.Jobs.Reporting;

/// <summary>Text inside a picture: fitted to a width without knowing the reader's font, and escaped for XML. Pure.</summary>
internal static class PictureText
{
    /// <summary>Mean width of a letter as a part of the font size: common sans-serif fonts lie between 0.5 and 0.56 (measured on running English text; own estimate).</summary>
    public const double LetterWidth = 0.55;

    /// <summary>Letters that fit into a width.</summary>
    public static int Letters(double width, double fontSize) => Math.Max(0, (int)(width / (fontSize * LetterWidth)));

    /// <summary>Ready to stand in an element or a quoted attribute of an XML document.</summary>
    public static string Xml(string text) => SecurityElement.Escape(VisibleText.Of(text)) ?? "";

    /// <summary>Breaks a text into lines at blanks; the last line allowed ends with an ellipsis when there is more.</summary>
    public static ImmutableArray<string> Wrap(string text, int letters, int mostLines)
    {
        var lines = ImmutableArray.CreateBuilder<string>();
        var line = new StringBuilder();
        int used = 0;
        foreach (string word in VisibleText.Of(text).Split(' ', StringSplitOptions.RemoveEmptyEntries))
        {
            string rest = word;
            while (rest.Length > 0)
            {
                var elements = new StringInfo(rest);
                int length = elements.LengthInTextElements;
                int room = letters - used - (used > 0 ? 1 : 0);
                if (length <= room)
                {
                    line.Append(used > 0 ? " " : "").Append(rest);
                    used += length + (used > 0 ? 1 : 0);
                    rest = "";
                    continue;
                }

                if (used == 0)
                {
                    // A word longer than a line is cut where the line ends.
                    line.Append(elements.SubstringByTextElements(0, Math.Max(1, room)));
                    rest = elements.SubstringByTextElements(Math.Max(1, room));
                }

                if (lines.Count == mostLines - 1)
                {
                    return [.. lines, line.Append('…').ToString()];
                }

                lines.Add(line.ToString());
                line.Clear();
                used = 0;
            }
        }

        return line.Length > 0 ? [.. lines, line.ToString()] : lines.ToImmutable();
    }
}
