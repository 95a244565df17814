using System.Collections.Immutable;
using System.Security.Cryptography;
using Station.Archive.Bags;
using Station.Archive.Durability;
using Station.Archive.Originals;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Stages;

/// <summary>
/// Recognises a file that was dropped before. Only bytes kept under the same record and sides make it a duplicate, and only after
/// the copy that is kept was checked just now; under another name it is taken in like any other, and <see cref="KnownElsewhere"/> asks about it.
/// </summary>
internal sealed class KnownCaptures(IStationStore store, StationFolders folders)
{
    public async Task<StageOutcome.Duplicate?> FindAsync(Job job, string sha256, CancellationToken cancellationToken)
    {
        ImmutableArray<Capture> same = await store.CapturesWithBytesAsync(sha256, job.Capture.Id, cancellationToken);
        foreach (Capture capture in same.Where(c => c.Filed.IsSameAs(job.Capture.Filed)))
        {
            if (KeptCopy(capture, sha256, cancellationToken) is { } path)
            {
                return new StageOutcome.Duplicate($"{job.Capture.FileName} holds the same bytes as {capture.Label}, which was checked and is whole; nothing was added.", path);
            }
        }

        return null;
    }

    private string? KeptCopy(Capture capture, string sha256, CancellationToken cancellationToken)
    {
        if (capture.Bag is { } bag)
        {
            // The bag itself says what it holds, and all of it is read from the disk: the database alone is no reason to let a file go.
            string path = folders.Absolute(bag);
            return Directory.Exists(path) && Holds(path, sha256) && BagReader.Check(path, BagDepth.FullFromDisk, cancellationToken).IsPristine ? path : null;
        }

        // Not archived: only a take that waits for the operator is at rest; one that is worked on may still be refused.
        string file = folders.Absolute(capture.Location);
        if (capture.Location.Length == 0 || !file.StartsWith(folders.Held + Path.DirectorySeparatorChar, StringComparison.Ordinal)
            || file.StartsWith(folders.Discarded + Path.DirectorySeparatorChar, StringComparison.Ordinal) || !File.Exists(file))
        {
            return null;
        }

        using FileStream stream = File.OpenRead(file);
        return Convert.ToHexStringLower(SHA256.HashData(stream)) == sha256 ? file : null;
    }

    private static bool Holds(string bag, string sha256)
    {
        try
        {
            return OriginalRestore.ReadRecipe(bag).Sha256 == sha256;
        }
        catch (Exception error) when (error is BagFormatException or PosixException or NotRegularFileException)
        {
            // Without a recipe nothing proves that the dropped file can be had back from this bag: the new one is taken in like any other.
            return false;
        }
    }
}
