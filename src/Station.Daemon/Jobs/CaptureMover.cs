using System.Globalization;
using Microsoft.Extensions.Logging;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs.Store;

namespace Station.Daemon.Jobs;

/// <summary>
/// Moves the dropped file between the station's folders. The move is decided in the store first, then made, then recorded: a restart
/// finds the decision and finishes it, and at every instant the file has exactly one place.
/// </summary>
internal sealed class CaptureMover(StationFolders folders, IStationStore store, ILogger<CaptureMover> log)
{
    /// <summary>Moves the file into <paramref name="folder"/> under its own name, or the next free one.</summary>
    public async Task<Job> MoveAsync(Job job, string folder, CancellationToken cancellationToken)
    {
        job = await FinishPendingAsync(job, cancellationToken);
        if (job.Capture.Location.Length == 0 || string.Equals(Path.GetDirectoryName(folders.Absolute(job.Capture.Location)), folder, StringComparison.Ordinal))
        {
            return job;
        }

        DurableFile.CreateFolder(folder);
        string to = FreeName(folder, Path.GetFileName(job.Capture.Location));
        job = await store.DecideMoveAsync(job, new PendingMove(job.Capture.Location, folders.Relative(to)), cancellationToken);
        return await FinishPendingAsync(job, cancellationToken);
    }

    /// <summary>Finishes a move that was decided before; nothing to do when none is pending.</summary>
    /// <exception cref="IOException">The file is at neither place.</exception>
    public async Task<Job> FinishPendingAsync(Job job, CancellationToken cancellationToken)
    {
        if (job.PendingMove is not { } move)
        {
            return job;
        }

        string from = folders.Absolute(move.From);
        string to = folders.Absolute(move.To);
        if (File.Exists(from))
        {
            DurableFile.CreateFolder(Path.GetDirectoryName(to)!);
            DurableFile.Move(from, to);
        }
        else if (!File.Exists(to))
        {
            throw new FileNotFoundException($"The capture {job.Capture.Label} is neither at {move.From} nor at {move.To}.", from);
        }
        else
        {
            // The earlier process renamed but may have died before the folders were synced.
            DurableFile.SyncFolder(Path.GetDirectoryName(to)!);
            if (Directory.Exists(Path.GetDirectoryName(from)))
            {
                DurableFile.SyncFolder(Path.GetDirectoryName(from)!);
            }
        }

        return await store.MovedAsync(job, move.To, cancellationToken);
    }

    /// <summary>Unlinks the dropped file. Only called when what holds its bytes was read back and matched.</summary>
    /// <remarks>A program that still had the file open may have written to it since it was read: then it goes back to the inbox, as another capture.</remarks>
    /// <param name="keptIn">Absolute path of the bag or file that holds the same bytes.</param>
    /// <param name="read">The version of the file whose bytes are kept.</param>
    public async Task<Job> ReleaseAsync(Job job, string keptIn, FileVersion? read, CancellationToken cancellationToken)
    {
        if (job.Capture.Location.Length == 0)
        {
            return job;
        }

        Unlink(job.Capture, keptIn, read);
        return await store.MovedAsync(job, "", cancellationToken);
    }

    /// <summary>The part of <see cref="ReleaseAsync"/> that happens on the disk. Done already: nothing happens.</summary>
    /// <exception cref="FileNotFoundException"><paramref name="keptIn"/> is not there: the file stays.</exception>
    public void Unlink(Capture capture, string keptIn, FileVersion? read)
    {
        if (!Path.Exists(keptIn))
        {
            throw new FileNotFoundException($"The dropped file {capture.FileName} stays: {keptIn}, which should hold its bytes, is not there.", keptIn);
        }

        string path = folders.Absolute(capture.Location);
        if (read is { } version && SafeOpen.TryLook(path) is { } now && FileVersion.Of(now.Identity) != version)
        {
            DurableFile.RenameNoReplace(path, FreeName(folders.Inbox, capture.FileName));
            log.ChangedAfterReading(capture.Label, capture.FileName);
        }
        else
        {
            DurableFile.Delete(path);
        }
    }

    /// <summary><c>name.wav</c>, or <c>name (2).wav</c> and so on when that is taken.</summary>
    public static string FreeName(string folder, string fileName)
    {
        string stem = Path.GetFileNameWithoutExtension(fileName);
        string extension = Path.GetExtension(fileName);
        string path = Path.Combine(folder, fileName);
        for (int n = 2; Path.Exists(path); n++)
        {
            path = Path.Combine(folder, string.Create(CultureInfo.InvariantCulture, $"{stem} ({n}){extension}"));
        }

        return path;
    }
}
