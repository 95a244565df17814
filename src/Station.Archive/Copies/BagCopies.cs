using Microsoft.Win32.SafeHandles;
using Station.Archive.Bags;
using Station.Archive.Durability;

namespace Station.Archive.Copies;

/// <summary>
/// The same bag at several places. A copy is made by the same sequence as the bag itself: staged under a temporary name, every file and folder synced, read
/// back from the disk, compared, and only then named. A copy is a copy to the byte, manifests included: it is never written anew from what it holds.
/// </summary>
public static class BagCopies
{
    private const string TagManifest = "tagmanifest-sha256.txt";

    /// <summary>
    /// Copies a bag to another place and proves the copy. Done already, or begun and cut off: finished and proved again.
    /// </summary>
    /// <param name="bag">A bag this library wrote, sealed.</param>
    /// <param name="copy">Final name of the copy; its parent folder exists.</param>
    /// <param name="cancellationToken">Stops between blocks; what was written is removed.</param>
    /// <exception cref="BagNotProvedException">What was copied, or what had the name already, is not a whole and equal bag. Which of the two is damaged is for the
    /// caller to find out.</exception>
    /// <exception cref="SourceChangedException">A file of the bag changed while it was copied.</exception>
    /// <exception cref="IOException">A step failed; nothing has the final name that had not before.</exception>
    public static void Copy(string bag, string copy, CancellationToken cancellationToken)
    {
        if (PosixStat.TryLook(Path.TrimEndingDirectorySeparator(copy)) is not null)
        {
            BagWriter.Seal(copy);       // the stop may have come between the rename and the read-only modes
            Prove(copy, bag, cancellationToken);
            return;
        }

        string staging = StageProved(bag, copy, cancellationToken);
        BagWriter.Publish(staging, copy);
    }

    /// <summary>
    /// Puts a proved copy of a good bag in the place of a bad one, which is kept under another name beside it. The bad one's name is never without a bag where the
    /// file system can exchange two names; where it cannot, for the instant between two renames.
    /// </summary>
    /// <param name="good">A bag this library wrote; proved again while it is copied.</param>
    /// <param name="bad">What is to be replaced; it may be gone altogether.</param>
    /// <param name="aside">New name of what was there, in the same folder; not taken yet.</param>
    /// <param name="cancellationToken">Stops between blocks; what was written is removed.</param>
    /// <exception cref="BagNotProvedException">The good bag is not good: the bad one is untouched.</exception>
    /// <exception cref="IOException">A step failed.</exception>
    public static void Replace(string good, string bad, string aside, CancellationToken cancellationToken)
    {
        if (Path.GetDirectoryName(Path.GetFullPath(aside)) != Path.GetDirectoryName(Path.TrimEndingDirectorySeparator(Path.GetFullPath(bad))))
        {
            throw new ArgumentException("A bag is set aside in its own folder: a sealed folder can't be moved to another.", nameof(aside));
        }

        string staging = StageProved(good, bad, cancellationToken);
        if (PosixStat.TryLook(bad) is null)
        {
            BagWriter.Publish(staging, bad);
            return;
        }

        if (Renaming.TryExchange(staging, bad))
        {
            DurableFile.RenameNoReplace(staging, aside);
        }
        else
        {
            DurableFile.RenameNoReplace(bad, aside);
            DurableFile.RenameNoReplace(staging, bad);
        }

        BagWriter.Seal(bad);
    }

    /// <summary>Proves a bag: whole, unchanged, without remarks, and the same as another one.</summary>
    /// <param name="bag">Read whole, from the disk as far as the kernel can be moved to it.</param>
    /// <param name="like">A bag whose tag manifest it must have; only that file is read. Null: any.</param>
    /// <param name="cancellationToken">Stops between blocks.</param>
    /// <exception cref="BagNotProvedException">It is not.</exception>
    /// <exception cref="IOException">The machine, not the bag, is at fault.</exception>
    public static void Prove(string bag, string? like, CancellationToken cancellationToken)
    {
        BagCheck check = BagReader.Check(bag, BagDepth.FullFromDisk, cancellationToken);
        if (!check.IsPristine)
        {
            throw new BagNotProvedException(bag, BagNotProvedException.FirstOf(check));
        }

        if (like is not null && !AreEqual(bag, like))
        {
            throw new BagNotProvedException(bag, $"expected the same tag manifest as {PathText.Printable(like)} has, found another");
        }
    }

    /// <summary>
    /// Are two bags one? The tag manifest names the digest of every tag file, the payload manifest among them, which names the digest of every payload file: bags that
    /// each verify and have it in common hold the same bytes.
    /// </summary>
    /// <exception cref="IOException">One of the two has no tag manifest or it cannot be read.</exception>
    public static bool AreEqual(string bag, string other) => TagManifestSha256(bag) == TagManifestSha256(other);

    /// <summary>SHA-256 of a bag's tag manifest, 64 lower-case hexadecimal digits: kept elsewhere, it tells the bag from any other that verifies in itself.</summary>
    /// <exception cref="IOException">It has none, or it cannot be read.</exception>
    public static string TagManifestSha256(string bag) => Fixity.FileDigest.Sha256(Path.Combine(bag, TagManifest));

    private static string StageProved(string bag, string copy, CancellationToken cancellationToken)
    {
        string staging = DurableFile.StagingPathFor(copy);
        DurableFile.DeleteFolder(staging);
        try
        {
            DurableFile.CreateFolder(staging);
            CopyFolder(bag, staging, isRoot: true, cancellationToken);
            Prove(staging, bag, cancellationToken);
            return staging;
        }
        catch
        {
            RemoveQuietly(staging);
            throw;
        }
    }

    /// <summary>Read-only from the deepest folder up but for the root, which has still to be renamed; each folder synced when all in it is there.</summary>
    private static void CopyFolder(string from, string to, bool isRoot, CancellationToken cancellationToken)
    {
        foreach (string entry in Directory.EnumerateFileSystemEntries(from).Order(StringComparer.Ordinal))
        {
            cancellationToken.ThrowIfCancellationRequested();
            string target = Path.Combine(to, Path.GetFileName(entry));
            switch (PosixStat.TryLook(entry))
            {
                case { Kind: FileKind.Folder }:
                    if (Posix.TryMakeFolder(target) is not 0 and int errno)
                    {
                        throw new PosixException(errno, "mkdir", target);
                    }

                    CopyFolder(entry, target, isRoot: false, cancellationToken);
                    break;
                case { Kind: FileKind.Regular }:
                    CopyFile(entry, target, cancellationToken);
                    break;
                case var other:
                    throw new BagNotProvedException(from, $"{PathText.Printable(Path.GetFileName(entry))}: expected a file or folder, found {other?.Kind.ToString() ?? "a name that can't be opened"}");
            }
        }

        if (!isRoot)
        {
            FolderTree.MakeReadOnly(to, PosixStat.Look(to));
        }

        DurableFile.SyncFolder(to);
    }

    private static void CopyFile(string from, string to, CancellationToken cancellationToken)
    {
        using SafeFileHandle source = SafeOpen.OpenRegular(from, out FileIdentity opened);
        using DurableWriter writer = DurableWriter.CreateNew(to);
        FileCopy.Into(writer, source, opened, from, cancellationToken);
        writer.MakeReadOnly();
        writer.Finish();
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
