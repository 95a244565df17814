using System.Text;

namespace Station.Archive.Bags;

/// <summary>Paths as manifests and fetch.txt write them: CR, LF and % (and only those) percent-encoded.</summary>
/// <remarks>RFC 8493 §2.1.3 and §2.2.3. Versions before 1.0 did not encode %.</remarks>
internal static class ManifestPath
{
    /// <summary>% first, or the escapes would be escaped.</summary>
    public static string Encode(string path) => path
        .Replace("%", "%25", StringComparison.Ordinal)
        .Replace("\r", "%0D", StringComparison.Ordinal)
        .Replace("\n", "%0A", StringComparison.Ordinal);

    /// <summary>Undoes <see cref="Encode"/> in one pass: a % that came out of %25 begins nothing.</summary>
    /// <param name="text">Path as written. Hex digits may be of either case (RFC 3986 §2.1).</param>
    /// <param name="percentIsEncoded">Version 1.0 and later.</param>
    /// <param name="strayPercent">A % stood there that should have been encoded; it was taken as it is.</param>
    public static string Decode(string text, bool percentIsEncoded, out bool strayPercent)
    {
        strayPercent = false;
        if (!text.Contains('%'))
        {
            return text;
        }

        StringBuilder path = new(text.Length);
        int index = 0;
        while (index < text.Length)
        {
            char? escaped = text[index] == '%' && index + 3 <= text.Length ? Unescape(text.AsSpan(index + 1, 2), percentIsEncoded) : null;
            strayPercent |= percentIsEncoded && text[index] == '%' && escaped is null;
            path.Append(escaped ?? text[index]);
            index += escaped is null ? 1 : 3;
        }

        return path.ToString();
    }

    private static char? Unescape(ReadOnlySpan<char> digits, bool percentIsEncoded) => digits switch
    {
        "0A" or "0a" => '\n',
        "0D" or "0d" => '\r',
        "25" when percentIsEncoded => '%',
        _ => null,
    };
}
