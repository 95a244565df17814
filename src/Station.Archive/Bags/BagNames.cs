namespace Station.Archive.Bags;

/// <summary>
/// Which file on disk a listed path stands for. Usually the one of that very name; a file whose name differs only in case or Unicode form (the bag went through a
/// file system that changes them) is taken when there is exactly one, with a warning.
/// </summary>
internal sealed class BagNames
{
    private readonly Dictionary<string, string> _otherForm = new(StringComparer.Ordinal);
    private readonly HashSet<string> _listed = new(StringComparer.Ordinal);
    private readonly BagTree _tree;

    private BagNames(BagTree tree) => _tree = tree;

    public static BagNames Resolve(BagInspection inspection, BagTree tree, IReadOnlyList<Manifest> manifests)
    {
        BagNames names = new(tree);
        foreach (Manifest manifest in manifests)
        {
            names._listed.UnionWith(manifest.Entries.Keys);
        }

        WarnOfTwins(inspection, names._listed);
        ILookup<string, string> over = tree.Payload.Keys.Concat(tree.Tags.Keys).Where(path => !names._listed.Contains(path)).ToLookup(BagPath.Folded, StringComparer.Ordinal);
        ILookup<string, string> absent = names._listed.Where(path => !tree.Contains(path)).ToLookup(BagPath.Folded, StringComparer.Ordinal);
        foreach (IGrouping<string, string> group in absent)
        {
            string[] candidates = [.. over[group.Key]];
            if (candidates.Length == 1 && group.Count() == 1)
            {
                names._otherForm.Add(group.First(), candidates[0]);
                names._listed.Add(candidates[0]);
                inspection.Warn(group.First(), $"stands in the bag as '{candidates[0]}' (other case or Unicode form)");
            }
        }

        return names;
    }

    /// <summary>The path on disk, or null when the file is not there.</summary>
    public string? OnDisk(string listed) => _tree.Contains(listed) ? listed : _otherForm.GetValueOrDefault(listed);

    /// <summary>Some manifest lists this file.</summary>
    public bool IsListed(string onDisk) => _listed.Contains(onDisk);

    private static void WarnOfTwins(BagInspection inspection, IEnumerable<string> listed)
    {
        foreach (IGrouping<string, string> group in listed.GroupBy(BagPath.Folded, StringComparer.Ordinal).Where(group => group.Skip(1).Any()))
        {
            string[] twins = [.. group.Order(StringComparer.Ordinal)];
            inspection.Warn(twins[0], $"differs from '{twins[1]}' only in case or Unicode form: some file systems take them for one");
        }
    }
}
