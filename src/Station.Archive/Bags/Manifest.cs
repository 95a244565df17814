using System.Globalization;
using System.Security.Cryptography;

namespace Station.Archive.Bags;

/// <summary>One line of a manifest.</summary>
/// <param name="Digest">Lower-case hexadecimal.</param>
/// <param name="Line">Line number from 1.</param>
internal readonly record struct ManifestEntry(string Digest, int Line);

/// <summary>A manifest that was read: which file has which digest.</summary>
/// <param name="Name">File name, kind and algorithm.</param>
/// <param name="Algorithm">Null when this reader does not know it.</param>
/// <param name="Entries">By decoded path relative to the bag.</param>
internal sealed record Manifest(ManifestName Name, HashAlgorithmName? Algorithm, IReadOnlyDictionary<string, ManifestEntry> Entries)
{
    /// <summary>Reads a manifest and reports what is wrong with it.</summary>
    public static Manifest Read(BagInspection inspection, ManifestName name, BagDeclaration declaration)
    {
        (HashAlgorithmName? algorithm, int digits) = Known(name.NormalAlgorithm);
        if (!name.IsNormal)
        {
            inspection.FaultOrWarn(declaration.IsStrict, name.FileName, BagFaultKind.Malformed, $"expected a name in normal form such as manifest-{name.NormalAlgorithm}.txt");
        }

        Dictionary<string, ManifestEntry> entries = new(StringComparer.Ordinal);
        if (TagFile.Read(inspection, name.FileName, declaration.Encoding) is { } file)
        {
            if (file.HasByteOrderMark)
            {
                inspection.Warn(name.FileName, "begins with a byte-order mark");
            }

            if (!file.EndsWithLineEnd)
            {
                inspection.Warn(name.FileName, "the last line has no line end");
            }

            for (int index = 0; index < file.Lines.Count; index++)
            {
                new ManifestLine(inspection, name, declaration, digits, index + 1).Read(file.Lines[index], entries);
            }
        }

        return new Manifest(name, algorithm, entries);
    }

    /// <summary>RFC 8493 §2.4: SHA-256 and SHA-512 must be supported; MD5 and SHA-1 for old bags; SHA-384 costs nothing more.</summary>
    private static (HashAlgorithmName? Algorithm, int Digits) Known(string normalName) => normalName switch
    {
        "md5" => (HashAlgorithmName.MD5, 32),
        "sha1" => (HashAlgorithmName.SHA1, 40),
        "sha256" => (HashAlgorithmName.SHA256, 64),
        "sha384" => (HashAlgorithmName.SHA384, 96),
        "sha512" => (HashAlgorithmName.SHA512, 128),
        _ => (null, 0),
    };
}

/// <summary>Reads one line of a manifest.</summary>
internal readonly struct ManifestLine(BagInspection inspection, ManifestName name, BagDeclaration declaration, int digits, int number)
{
    public void Read(string line, Dictionary<string, ManifestEntry> entries)
    {
        if (string.IsNullOrWhiteSpace(line))
        {
            Warn("empty");
            return;
        }

        int gap = line.AsSpan().IndexOfAny(' ', '\t');
        string path = gap < 0 ? "" : line[gap..].TrimStart(' ', '\t');
        string digest = gap < 0 ? line : line[..gap];
        if (path.Length == 0 || !digest.All(char.IsAsciiHexDigit) || (digits > 0 && digest.Length != digits) || digest.Length == 0)
        {
            Malformed(BagFaultKind.Malformed, $"expected {(digits > 0 ? digits.ToString(CultureInfo.InvariantCulture) : "some")} hexadecimal digits, white space and a path, found '{line}'");
            return;
        }

        if (!digest.Equals(digest.ToLowerInvariant(), StringComparison.Ordinal))
        {
            Warn("digest not in lower case");
        }

        // Checksum tools mark a file read as binary with '*' right after one blank. A tag file could be called so; payload paths begin with data/.
        bool marked = path.StartsWith('*') && (!name.IsTag || line.AsSpan(gap).StartsWith(" *"));
        Add(Decode(path, marked), new ManifestEntry(digest.ToLowerInvariant(), number), entries);
    }

    private string Decode(string path, bool marked)
    {
        if (marked)
        {
            Warn("'*' before the path (mark of a checksum tool)");
            path = path[1..];
        }

        while (path.StartsWith("./", StringComparison.Ordinal))
        {
            Warn("'./' before the path");
            path = path[2..];
        }

        path = ManifestPath.Decode(path, declaration.IsStrict, out bool strayPercent);
        if (strayPercent)
        {
            Warn("% that is not encoded; taken as it is");
        }

        return path;
    }

    private void Add(string path, ManifestEntry entry, Dictionary<string, ManifestEntry> entries)
    {
        if (BagPath.WhyUnsafe(path) is { } danger)
        {
            Malformed(BagFaultKind.Unsafe, $"path '{path}' {danger}: refused");
        }
        else if (path.Length == 0 || BagPath.WhyNotPlain(path) is not null)
        {
            Malformed(BagFaultKind.Malformed, $"expected a plain relative path, found '{path}'");
        }
        else if (name.IsTag == path.StartsWith(BagPath.Payload, StringComparison.Ordinal))
        {
            Malformed(BagFaultKind.Malformed, name.IsTag ? $"expected a tag file, found payload '{path}'" : $"expected a path below data/, found '{path}'");
        }
        else if (!entries.TryAdd(path, entry))
        {
            inspection.Fault(path, BagFaultKind.Duplicate, $"listed twice in {name.FileName}, lines {entries[path].Line} and {number}");
        }
    }

    private void Malformed(BagFaultKind kind, string message) => inspection.Fault(name.FileName, kind, string.Create(CultureInfo.InvariantCulture, $"line {number}: {message}"));

    private void Warn(string message) => inspection.Warn(name.FileName, string.Create(CultureInfo.InvariantCulture, $"line {number}: {message}"));
}
