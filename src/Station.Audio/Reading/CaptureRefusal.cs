using System.Buffers;
using System.Globalization;
using System.Text;

namespace Station.Audio.Reading;

/// <summary>Why a file was not taken: where, what was expected, what was found, what to do.</summary>
/// <param name="Kind">Which of the three families.</param>
/// <param name="File">The name as given to the reader, unescaped.</param>
/// <param name="ByteOffset">Where in the file the contradiction shows; for a failed decode, the bytes the decoder had been given.</param>
/// <param name="Expected">What would have been right.</param>
/// <param name="Found">What is there instead.</param>
/// <param name="Advice">What the operator can do.</param>
public sealed record CaptureRefusal(RefusalKind Kind, string File, long ByteOffset, string Expected, string Found, string Advice)
{
    /// <summary>Frames that were decoded before it failed; null when the file was refused by its header.</summary>
    public long? Frame { get; init; }

    /// <summary>The same in seconds.</summary>
    public double? Seconds { get; init; }

    /// <summary>Everything in one line that is safe for logs and terminals: control and direction-changing characters are escaped.</summary>
    public string OneLine
    {
        get
        {
            string place = Frame is { } frame
                ? string.Create(CultureInfo.InvariantCulture, $"after frame {frame} ({Seconds ?? 0:0.000} s, by byte {ByteOffset})")
                : string.Create(CultureInfo.InvariantCulture, $"byte {ByteOffset}");
            return Escape($"{File}: {place}: expected {Expected}, found {Found}. {Advice}");
        }
    }

    /// <summary>Escapes what could break a line or disguise it.</summary>
    internal static string Escape(string text)
    {
        var line = new StringBuilder(text.Length);
        ReadOnlySpan<char> rest = text;
        while (!rest.IsEmpty)
        {
            // Half a character is what an undecodable file name leaves behind. Format characters include the bidirectional overrides
            // and, beyond the first plane, the invisible tag letters.
            bool whole = Rune.DecodeFromUtf16(rest, out Rune rune, out int used) == OperationStatus.Done;
            bool hidden = !whole || Rune.GetUnicodeCategory(rune)
                is UnicodeCategory.Control or UnicodeCategory.Format or UnicodeCategory.LineSeparator or UnicodeCategory.ParagraphSeparator;
            if (hidden && used == 1)
            {
                line.Append(CultureInfo.InvariantCulture, $"\\u{(int)rest[0]:x4}");
            }
            else if (hidden)
            {
                line.Append(CultureInfo.InvariantCulture, $"\\U{rune.Value:x8}");
            }
            else
            {
                line.Append(rest[..used]);
            }

            rest = rest[used..];
        }

        return line.ToString();
    }
}
