using Station.Archive.Durability;

namespace Station.Archive.Bags;

/// <summary>What stands in a bag's folder: regular files with their lengths; everything else is a fault and never opened.</summary>
internal sealed class BagTree
{
    private readonly SortedDictionary<string, long> _payload = new(StringComparer.Ordinal);
    private readonly SortedDictionary<string, long> _tags = new(StringComparer.Ordinal);
    private readonly HashSet<string> _unsafe = new(StringComparer.Ordinal);

    /// <summary>Files below data/, path relative to the bag, with length in bytes.</summary>
    public IReadOnlyDictionary<string, long> Payload => _payload;

    /// <summary>All other files.</summary>
    public IReadOnlyDictionary<string, long> Tags => _tags;

    /// <summary>The folder data/ is there.</summary>
    public bool HasPayloadFolder { get; private set; }

    /// <summary>Something stands there that is not a regular file; it was reported already.</summary>
    public bool IsUnsafe(string path) => _unsafe.Contains(path) || _unsafe.Any(above => path.StartsWith(above + "/", StringComparison.Ordinal));

    public bool Contains(string path) => _payload.ContainsKey(path) || _tags.ContainsKey(path);

    public static BagTree Walk(BagInspection inspection, CancellationToken cancellationToken)
    {
        BagTree tree = new();
        Stack<string> folders = new([""]);
        while (folders.TryPop(out string? folder))
        {
            foreach (string entry in Entries(inspection, folder))
            {
                cancellationToken.ThrowIfCancellationRequested();
                tree.Add(inspection, folder + Path.GetFileName(entry), folders);
            }
        }

        return tree;
    }

    private static string[] Entries(BagInspection inspection, string folder)
    {
        try
        {
            return Directory.GetFileSystemEntries(inspection.PathOf(folder));
        }
        catch (Exception e) when (e is UnauthorizedAccessException or DirectoryNotFoundException || Readable.IsDamage(e))
        {
            inspection.Fault(folder.Length == 0 ? "." : folder, BagFaultKind.Unreadable, "expected a folder that can be listed, found: " + e.Message);
            return [];
        }
    }

    private void Add(BagInspection inspection, string path, Stack<string> folders)
    {
        FileFacts? facts = PosixStat.TryLook(inspection.PathOf(path));
        switch (facts)
        {
            case null:
                // Listed, yet not found under the name it was listed with: bytes that are not UTF-8 came out as replacement characters.
                _unsafe.Add(path);
                inspection.Fault(path, BagFaultKind.Unsafe, "expected a name in UTF-8, found other bytes");
                break;
            case { Kind: FileKind.Folder }:
                HasPayloadFolder |= path + "/" == BagPath.Payload;
                folders.Push(path + "/");
                break;
            case { Kind: FileKind.Regular, Identity.Bytes: var bytes }:
                (path.StartsWith(BagPath.Payload, StringComparison.Ordinal) ? _payload : _tags).Add(path, bytes);
                break;
            case { Kind: var kind }:
                _unsafe.Add(path);
                inspection.Fault(path, BagFaultKind.Unsafe, new NotRegularFileException(path, kind).Message[(PathText.Printable(path).Length + 2)..]);
                break;
        }
    }
}
