using System.Text;

namespace Station.Archive.Bags;

/// <summary>Rules for relative paths inside a bag.</summary>
internal static class BagPath
{
    public const string Payload = "data/";
    public const string Declaration = "bagit.txt";
    public const string Info = "bag-info.txt";
    public const string Fetch = "fetch.txt";

    /// <summary>Longest file name most file systems take (NAME_MAX of Linux).</summary>
    private const int MaxNameBytes = 255;

    /// <summary>Why this path could lead out of the bag, on this or another system; null when it cannot.</summary>
    public static string? WhyUnsafe(string path)
    {
        if (path.Contains('\0'))
        {
            return "holds NUL";
        }

        if (path.StartsWith('/') || path.StartsWith('\\'))
        {
            return "is absolute";
        }

        if (path.StartsWith('~'))
        {
            return "begins with ~ (a home folder)";
        }

        if (path.Length >= 2 && path[1] == ':' && char.IsAsciiLetter(path[0]))
        {
            return "names a drive";
        }

        return Array.Exists(path.Split('/', '\\'), part => part == "..") ? "climbs out with .." : null;
    }

    /// <summary>Why the path is not in plain form (each file has one way to be written); null when it is.</summary>
    public static string? WhyNotPlain(string path)
    {
        string[] parts = path.Split('/');
        if (Array.Exists(parts, part => part.Length == 0))
        {
            return "has an empty part";
        }

        return Array.Exists(parts, part => part == ".") ? "has a part '.'" : null;
    }

    /// <summary>Why the writer does not put a file under this name into a bag; null when it does.</summary>
    public static string? WhyNotWritable(string name)
    {
        if ((WhyUnsafe(name) ?? WhyNotPlain(name)) is { } reason)
        {
            return reason;
        }

        if (name.Contains('\\'))
        {
            return "holds a backslash, which separates folders elsewhere";
        }

        for (int index = 0; index < name.Length; index++)
        {
            if (!Rune.TryGetRuneAt(name, index, out Rune rune))
            {
                return "holds half a character (unpaired surrogate)";
            }

            index += rune.Utf16SequenceLength - 1;
        }

        return Array.Exists(name.Split('/'), part => Encoding.UTF8.GetByteCount(part) > MaxNameBytes) ? $"has a part over {MaxNameBytes} bytes" : null;
    }

    /// <summary>Equal for names that some file systems take for the same: case and Unicode form left out.</summary>
    public static string Folded(string path)
    {
        try
        {
            return path.Normalize(NormalizationForm.FormC).ToUpperInvariant();
        }
        catch (ArgumentException)
        {
            // A name with an unpaired surrogate has no normal form; it is equal to itself only.
            return path;
        }
    }
}
