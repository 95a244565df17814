using System.Buffers;
using System.Globalization;
using System.Text;

namespace Station.Daemon.Intake;

/// <summary>Names whose bytes are no UTF-8, written so that they can be told apart, shown, and be names themselves. Pure.</summary>
internal static class UndecodableName
{
    public const string Reason = "the name is not valid UTF-8; rename the file and drop it again (bytes that are no text are shown as %XX)";

    /// <summary>Ends the name such a file bears between two renames; of a kind that is refused, should the process die there.</summary>
    public const string BetweenEnding = ".name";

    /// <summary>Text as it is, each byte that is none as <c>%XX</c>, and <c>%</c> itself as <c>%25</c>: different names have different escaped ones.</summary>
    public static string Escape(ReadOnlySpan<byte> name)
    {
        var text = new StringBuilder(name.Length + 16);
        while (!name.IsEmpty)
        {
            if (Rune.DecodeFromUtf8(name, out Rune rune, out int used) == OperationStatus.Done && rune.Value != '%')
            {
                text.Append(rune.ToString());
            }
            else
            {
                foreach (byte b in name[..used])
                {
                    text.Append(CultureInfo.InvariantCulture, $"%{b:X2}");
                }
            }

            name = name[used..];
        }

        return text.ToString();
    }
}
