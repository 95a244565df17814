using System.Buffers;
using System.Security.Cryptography;
using System.Text;

namespace Station.Archive.Durability;

/// <summary>
/// Names of unfinished things: <c>.part-</c> and 16 lower-case hex digits, in the folder of the final name. Short and of fixed form, so they fit
/// wherever the final name fits and no other program's temporary files are mistaken for ours.
/// </summary>
internal static class TemporaryNames
{
    private const string Prefix = ".part-";
    private const int HexDigits = 16;
    private static readonly SearchValues<char> LowerHex = SearchValues.Create("0123456789abcdef");

    /// <summary>A name nobody has used.</summary>
    public static string Beside(string path) => Combine(path, Convert.ToHexStringLower(RandomNumberGenerator.GetBytes(HexDigits / 2)));

    /// <summary>The name that always belongs to this final name: what a killed run left is found and replaced by the next.</summary>
    public static string For(string path) =>
        Combine(path, Convert.ToHexStringLower(SHA256.HashData(Encoding.UTF8.GetBytes(Path.GetFileName(path))))[..HexDigits]);

    public static bool IsOne(string fileName)
    {
        if (fileName.Length != Prefix.Length + HexDigits || !fileName.StartsWith(Prefix, StringComparison.Ordinal))
        {
            return false;
        }

        return !fileName.AsSpan(Prefix.Length).ContainsAnyExcept(LowerHex);
    }

    private static string Combine(string path, string digits) =>
        Path.Combine(Path.GetDirectoryName(path) ?? throw new ArgumentException($"{PathText.Printable(path)}: has no folder", nameof(path)), Prefix + digits);
}
