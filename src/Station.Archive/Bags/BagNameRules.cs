using Station.Archive.Durability;

namespace Station.Archive.Bags;

/// <summary>Which names the writer takes: such as are safe on every system the archive may be copied to.</summary>
internal static class BagNameRules
{
    /// <exception cref="ArgumentException">Names the first one that is not taken, and why.</exception>
    public static void Check(IReadOnlyList<BagFile> payload, IReadOnlyList<BagFile> tagFiles)
    {
        CheckEach(payload, "payload", _ => null);
        CheckEach(tagFiles, "tag file", WhyNotTagFile);
    }

    private static void CheckEach(IReadOnlyList<BagFile> files, string role, Func<string, string?> more)
    {
        Dictionary<string, string> seen = new(StringComparer.Ordinal);
        foreach (BagFile file in files)
        {
            if ((BagPath.WhyNotWritable(file.Name) ?? more(file.Name)) is { } reason)
            {
                throw new ArgumentException($"{role} '{file.PrintableName}': {reason}", nameof(files));
            }

            if (!seen.TryAdd(BagPath.Folded(file.Name), file.Name))
            {
                string other = PathText.Printable(seen[BagPath.Folded(file.Name)]);
                throw new ArgumentException($"{role} '{file.PrintableName}': some file systems take it for '{other}'", nameof(files));
            }
        }
    }

    private static string? WhyNotTagFile(string name)
    {
        string lower = name.ToLowerInvariant();
        if (lower == "data" || lower.StartsWith(BagPath.Payload, StringComparison.Ordinal))
        {
            return "data/ holds payload only";
        }

        bool reserved = lower is BagPath.Declaration or BagPath.Info or BagPath.Fetch || ManifestName.TryParse(lower, out _);
        return reserved ? "the format keeps this name for itself" : null;
    }
}
