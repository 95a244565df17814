using System.Diagnostics.CodeAnalysis;
using Station.Archive.Durability;

namespace Station.Archive.Bags;

/// <summary>Reads and checks bags, of this service or of others (RFC 8493, versions 0.93 to 1.0). Never changes, repairs or fetches anything.</summary>
public static class BagReader
{
    /// <summary>Reads bag-info.txt of a bag that has what this service writes.</summary>
    /// <exception cref="BagFormatException">The file, or an element of it, is missing or malformed.</exception>
    /// <exception cref="PosixException">It cannot be read.</exception>
    public static BagInfo ReadInfo(string bag) =>
        BagInfoText.ToInfo(PathText.Printable(Path.Combine(bag, BagPath.Info)), ReadInfoElements(bag));

    /// <summary>Reads every element of bag-info.txt in order, whatever they are.</summary>
    /// <exception cref="BagFormatException">The file is missing or malformed.</exception>
    /// <exception cref="PosixException">It cannot be read.</exception>
    public static IReadOnlyList<(string Label, string Value)> ReadInfoElements(string bag)
    {
        ArgumentException.ThrowIfNullOrEmpty(bag);
        BagInspection inspection = new(Path.GetFullPath(bag));
        BagTree tree = BagTree.Walk(inspection, CancellationToken.None);
        BagDeclaration declaration = BagDeclaration.Read(inspection, tree);
        IReadOnlyList<(string Label, string Value)>? elements = tree.Tags.ContainsKey(BagPath.Info)
            ? BagInfoFile.Read(inspection, declaration)
            : null;
        BagCheck found = inspection.Finish(0, 0);
        BagFault? fault = found.Faults.FirstOrDefault(f => f.File is BagPath.Declaration or BagPath.Info);
        return fault is null && elements is not null
            ? elements
            : throw new BagFormatException(BagPath.Info, $"{PathText.Printable(bag)}: {fault?.Message ?? "bag-info.txt: expected a file, found none"}");
    }

    /// <summary>Checks a bag and reports everything that is wrong with it.</summary>
    /// <param name="bag">Folder of the bag.</param>
    /// <param name="depth">Only what is there, or every digest too.</param>
    /// <param name="cancellationToken">Stops between blocks.</param>
    /// <param name="progress">Told the number of bytes hashed since the last call.</param>
    /// <exception cref="IOException">The machine, not the bag, is at fault (no handles, share gone): nothing was judged.</exception>
    [SuppressMessage("Design", "CA1068:CancellationToken parameters must come last", Justification = "Every caller can be stopped, few want progress.")]
    public static BagCheck Check(
        string bag, BagDepth depth, CancellationToken cancellationToken = default, IProgress<long>? progress = null)
    {
        ArgumentException.ThrowIfNullOrEmpty(bag);
        BagInspection inspection = new(Path.TrimEndingDirectorySeparator(Path.GetFullPath(bag)));
        switch (PosixStat.TryLook(inspection.Folder))
        {
            case null:
                inspection.Fault(".", BagFaultKind.Missing, $"expected a bag at {inspection.Folder}, found nothing");
                return inspection.Finish(0, 0);
            case { Kind: not FileKind.Folder } other:
                inspection.Fault(".", BagFaultKind.Unsafe, new NotRegularFileException(inspection.Folder, other.Kind).Message.Replace("a regular file", "a folder", StringComparison.Ordinal));
                return inspection.Finish(0, 0);
        }

        BagTree tree = BagTree.Walk(inspection, cancellationToken);
        BagDeclaration declaration = BagDeclaration.Read(inspection, tree);
        List<Manifest> manifests = [.. Manifests(tree).Select(name => Manifest.Read(inspection, name, declaration))];
        BagNames names = BagNames.Resolve(inspection, tree, manifests);
        BagCompleteness.Judge(inspection, tree, declaration, manifests, names);
        if (depth != BagDepth.Quick)
        {
            new BagFixity(inspection, progress, dropCache: depth == BagDepth.FullFromDisk).Judge(manifests, names, cancellationToken);
        }

        return inspection.Finish(tree.Payload.Values.Sum(), tree.Payload.Count);
    }

    private static IEnumerable<ManifestName> Manifests(BagTree tree)
    {
        foreach (string file in tree.Tags.Keys)
        {
            if (ManifestName.TryParse(file, out ManifestName name))
            {
                yield return name;
            }
        }
    }
}
