using System.Globalization;
using System.Text;
using Microsoft.Win32.SafeHandles;
using Station.Archive.Durability;
using Station.Archive.Fixity;

namespace Station.Archive.Bags;

/// <summary>Lines of a tag file: ended by LF, CR or CRLF (RFC 8493 §2.1.1 and following).</summary>
/// <param name="Lines">Without their ends.</param>
/// <param name="HasByteOrderMark">The file began with one; it is not in <paramref name="Lines"/>.</param>
/// <param name="EndsWithLineEnd">The last line is ended too (true for an empty file).</param>
internal sealed record TagFile(IReadOnlyList<string> Lines, bool HasByteOrderMark, bool EndsWithLineEnd)
{
    /// <summary>A manifest of this length lists some 600,000 files: more is refused before memory is given.</summary>
    private const long MaxBytes = 64L * 1024 * 1024;

    private const char ByteOrderMark = '\uFEFF';

    /// <summary>Reads a file that the tree holds; null when it cannot be read, which is then reported.</summary>
    public static TagFile? Read(BagInspection inspection, string name, Encoding encoding)
    {
        try
        {
            return Parse(encoding.GetString(Bytes(inspection.PathOf(name))));
        }
        catch (DecoderFallbackException e)
        {
            inspection.Fault(name, BagFaultKind.Malformed, string.Create(CultureInfo.InvariantCulture, $"offset {e.Index}: expected {encoding.WebName}, found bytes that are not"));
        }
        catch (PosixException e) when (Readable.IsOfTheFile(e))
        {
            inspection.Fault(name, BagFaultKind.Unreadable, "expected a readable file, found: " + e.Message);
        }
        catch (BagFormatException e)
        {
            inspection.Fault(name, BagFaultKind.Malformed, e.Message);
        }

        return null;
    }

    internal static TagFile Parse(string text)
    {
        bool marked = text.StartsWith(ByteOrderMark);
        List<string> lines = [];
        using StringReader reader = new(marked ? text[1..] : text);
        while (reader.ReadLine() is { } line)
        {
            lines.Add(line);
        }

        return new TagFile(lines, marked, text.Length == 0 || text[^1] is '\n' or '\r');
    }

    private static byte[] Bytes(string path)
    {
        using SafeFileHandle file = SafeOpen.OpenRegular(path, out FileIdentity identity);
        if (identity.Bytes > MaxBytes)
        {
            throw new BagFormatException(path, $"expected at most {MaxBytes} bytes, found {identity.Bytes}");
        }

        using MemoryStream content = new((int)identity.Bytes);
        FileDigest.ReadAll(file, path, content.Write, bytesRead: null, CancellationToken.None);
        return content.ToArray();
    }
}
