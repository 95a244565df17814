using Station.Archive.Durability;

namespace Station.Archive.Bags;

/// <summary>Writes bags: first under a temporary name, complete and synced, then made visible in one step.</summary>
public static class BagWriter
{
    /// <summary>
    /// Writes a whole bag into a staging folder: payload, then the tag files, manifest and tag manifest (SHA-256, and SHA-512 beside it when asked for), every file and folder synced and
    /// read-only but for the staging folder itself. Doing it again gives the same bag: what an earlier try left is removed first.
    /// </summary>
    /// <param name="stagingFolder">Its name must be one of the temporary ones (<see cref="DurableFile.StagingPathFor"/> gives the one that belongs to a bag), on the
    /// file system of the final folder.</param>
    /// <param name="payload">Files below data/.</param>
    /// <param name="tagFiles">Files beside data/, such as README.txt.</param>
    /// <param name="info">Content of bag-info.txt.</param>
    /// <param name="cancellationToken">Stops between blocks; what was written is removed.</param>
    /// <param name="withSha512">A second manifest and tag manifest with SHA-512; each file is still read once.</param>
    /// <exception cref="ArgumentException">A name that may not be in a bag, two names some file systems take for one, or a staging folder with an ordinary name.</exception>
    /// <exception cref="PosixException">A step failed; the partial bag was removed as far as possible.</exception>
    /// <exception cref="SourceChangedException">A source changed while copied or has not the digest it should have.</exception>
    public static void Stage(
        string stagingFolder,
        IReadOnlyList<BagFile> payload,
        IReadOnlyList<BagFile> tagFiles,
        BagInfo info,
        CancellationToken cancellationToken,
        bool withSha512 = false)
    {
        ArgumentException.ThrowIfNullOrEmpty(stagingFolder);
        ArgumentNullException.ThrowIfNull(payload);
        ArgumentNullException.ThrowIfNull(tagFiles);
        ArgumentNullException.ThrowIfNull(info);
        string staging = Path.TrimEndingDirectorySeparator(Path.GetFullPath(stagingFolder));
        if (!DurableFile.IsTemporaryName(Path.GetFileName(staging)))
        {
            // It is about to be deleted: an ordinary name could be anything.
            throw new ArgumentException($"{PathText.Printable(staging)}: expected a temporary name, see DurableFile.StagingPathFor", nameof(stagingFolder));
        }

        BagNameRules.Check(payload, tagFiles);
        _ = BagInfoText.Write(info, 0, 0);
        DurableFile.DeleteFolder(staging);
        try
        {
            new BagStaging(staging, withSha512, cancellationToken).Write(payload, tagFiles, info);
        }
        catch
        {
            RemoveQuietly(staging);
            throw;
        }
    }

    /// <summary>
    /// Gives a staged bag its final name: rename without replacement, fsync of the parents, then the folder becomes read-only. A reader sees no bag or all of it.
    /// </summary>
    /// <exception cref="PosixException">EEXIST: something has the final name; the staged bag is untouched, compare the two. Others: not published, unless the fsync of
    /// the parent failed after the rename; <see cref="Seal"/> is then to be called on what has the final name before it is trusted.</exception>
    public static void Publish(string stagingFolder, string bagFolder)
    {
        DurableFile.RenameNoReplace(stagingFolder, bagFolder);
        Seal(bagFolder);
    }

    /// <summary>
    /// Completes a publication that was cut off after the rename: syncs the parent folder and takes the write permission from every file and folder of the bag.
    /// Does nothing more when called again.
    /// </summary>
    /// <exception cref="PosixException">A step failed.</exception>
    public static void Seal(string bagFolder)
    {
        string bag = Path.TrimEndingDirectorySeparator(Path.GetFullPath(bagFolder));
        FolderTree.MakeReadOnly(bag);
        DurableFile.SyncFolder(bag);
        DurableFile.SyncFolder(Path.GetDirectoryName(bag) ?? throw new ArgumentException("A bag is not the root.", nameof(bagFolder)));
    }

    private static void RemoveQuietly(string staging)
    {
        try
        {
            DurableFile.DeleteFolder(staging);
        }
        catch (IOException)
        {
            // The failure that led here is the one to tell; the temporary name says what the rest is.
        }
    }
}
