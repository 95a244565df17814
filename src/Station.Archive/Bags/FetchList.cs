using System.Globalization;

namespace Station.Archive.Bags;

/// <summary>fetch.txt: files that are kept elsewhere (RFC 8493 §2.2.3). Read and judged; nothing is ever fetched.</summary>
internal static class FetchList
{
    /// <summary>The payload paths it names; empty without the file.</summary>
    public static IReadOnlySet<string> Read(BagInspection inspection, BagTree tree, BagDeclaration declaration, IReadOnlyList<Manifest> payload)
    {
        HashSet<string> paths = new(StringComparer.Ordinal);
        if (!tree.Tags.ContainsKey(BagPath.Fetch) || TagFile.Read(inspection, BagPath.Fetch, declaration.Encoding) is not { } file)
        {
            return paths;
        }

        for (int index = 0; index < file.Lines.Count; index++)
        {
            if (Judge(file.Lines[index], declaration, payload, out string path) is { } fault)
            {
                string message = string.Create(CultureInfo.InvariantCulture, $"line {index + 1}: {fault.Message}");
                inspection.Fault(BagPath.Fetch, fault.Kind, message);
            }
            else if (path.Length > 0)
            {
                paths.Add(path);
            }
        }

        return paths;
    }

    private static (BagFaultKind Kind, string Message)? Judge(string line, BagDeclaration declaration, IReadOnlyList<Manifest> payload, out string path)
    {
        path = "";
        if (string.IsNullOrWhiteSpace(line))
        {
            return null;
        }

        string[] parts = line.Split([' ', '\t'], 3, StringSplitOptions.RemoveEmptyEntries);
        if (parts.Length < 3 || !(parts[1] == "-" || long.TryParse(parts[1], NumberStyles.None, CultureInfo.InvariantCulture, out _)))
        {
            return (BagFaultKind.Malformed, $"expected an address, a length or -, and a path, found '{line}'");
        }

        string listed = ManifestPath.Decode(parts[2].TrimStart(' ', '\t'), declaration.IsStrict, out _);
        if (BagPath.WhyUnsafe(listed) is { } danger)
        {
            return (BagFaultKind.Unsafe, $"path '{listed}' {danger}: refused");
        }

        if (!listed.StartsWith(BagPath.Payload, StringComparison.Ordinal))
        {
            return (BagFaultKind.Malformed, $"expected a path below data/, found '{listed}'");
        }

        if (payload.FirstOrDefault(manifest => !manifest.Entries.ContainsKey(listed)) is { } silent)
        {
            return (BagFaultKind.Malformed, $"'{listed}' is not listed in {silent.Name.FileName}");
        }

        path = listed;
        return null;
    }
}
