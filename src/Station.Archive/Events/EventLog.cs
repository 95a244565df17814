using System.Collections.Immutable;
using Microsoft.Win32.SafeHandles;
using Station.Archive.Durability;
using Station.Archive.Fixity;

namespace Station.Archive.Events;

/// <summary>
/// The append-only history of one record: <c>events.jsonl</c>, one JSON object a line. Several threads and processes may append; each append is
/// on disk when the call returns.
/// </summary>
public static class EventLog
{
    /// <summary>Far more than a record's events come to; a larger file is not one of ours.</summary>
    private const long MaxBytes = 256L * 1024 * 1024;

    /// <summary>
    /// Adds one line and syncs it; makes the file (and syncs its folder) when there is none. A line that a power cut left torn is first closed, so that it
    /// stays recognisable. When the sync fails, the file is written anew under a temporary name and put in its place, once.
    /// </summary>
    /// <param name="path">The log; its folder must exist.</param>
    /// <param name="e">The event. Appending the same id again after an error is harmless.</param>
    /// <exception cref="ArgumentException">A required member is empty.</exception>
    /// <exception cref="PosixException">The event is not safely recorded; the log is as it was, as far as the disk allows.</exception>
    public static void Append(string path, RecordEvent e)
    {
        ArgumentException.ThrowIfNullOrEmpty(path);
        ArgumentNullException.ThrowIfNull(e);
        byte[] line = EventLine.Write(e);
        if (EventLine.TryRead(line.AsSpan(0, line.Length - 1), out string reason) is null)
        {
            throw new ArgumentException(reason, nameof(e));
        }

        path = Path.GetFullPath(path);
        using SafeFileHandle file = OpenLocked(path, out bool isNew);
        try
        {
            AppendLocked(file, path, line, isNew);
        }
        finally
        {
            Posix.Unlock(file);
        }
    }

    /// <summary>Every event, in the order of the file. A log that does not exist has none.</summary>
    /// <param name="path">The log.</param>
    /// <param name="tornLines">Lines cut short by a power cut; they were never acknowledged.</param>
    /// <exception cref="EventLogDamagedException">A line in the middle is no event; <see cref="ReadAll(string)"/> gives the rest.</exception>
    /// <exception cref="PosixException">It cannot be read.</exception>
    public static IReadOnlyList<RecordEvent> Read(string path, out int tornLines)
    {
        EventLogContent content = ReadAll(path);
        tornLines = content.TornLines;
        return content.Damaged.IsEmpty
            ? content.Events
            : throw new EventLogDamagedException(path, content.Damaged[0].LineNumber, content.Damaged[0].Reason);
    }

    /// <summary>Every event and every damaged line.</summary>
    /// <exception cref="PosixException">It cannot be read.</exception>
    public static EventLogContent ReadAll(string path)
    {
        ArgumentException.ThrowIfNullOrEmpty(path);
        if (SafeOpen.TryIdentify(path) is null)
        {
            return new EventLogContent([], 0, []);
        }

        using SafeFileHandle file = SafeOpen.OpenRegular(path, out _);
        return EventLogText.Read(ReadAll(file, path));
    }

    /// <summary>The bytes of the log up to its last line end: what was acknowledged, and nothing of a line that is being written.</summary>
    internal static byte[] WholeLines(string path)
    {
        using SafeFileHandle file = SafeOpen.OpenRegular(path, out _);
        byte[] content = ReadAll(file, path);
        return content[..(content.AsSpan().LastIndexOf(EventLine.End) + 1)];
    }

    private static void AppendLocked(SafeFileHandle file, string path, byte[] line, bool isNew)
    {
        byte[] old = ReadAll(file, path);
        byte[] added = [.. Closing(old), .. line];
        try
        {
            Posix.WriteAll(file, added, path);
        }
        catch
        {
            TakeBack(file, old.Length, path);
            throw;
        }

        try
        {
            Posix.Fsync(file, path);
        }
        catch (PosixException)
        {
            // This file's pages can no longer be trusted. What was there before had been synced, so it is the source of a new file.
            TakeBack(file, old.Length, path);
            DurableFile.Replace(path, [.. old, .. added]);
            return;
        }

        if (isNew || old.Length == 0)
        {
            DurableFile.SyncFolder(Path.GetDirectoryName(path)!);
        }
    }

    private static SafeFileHandle OpenLocked(string path, out bool isNew)
    {
        while (true)
        {
            isNew = PosixStat.TryLook(path) is null;
            SafeFileHandle file = Posix.Open(path, Posix.ReadWrite | Posix.Append | Posix.NoFollow | Posix.NonBlock | Posix.Create, FileModes.NewFile);
            bool kept = false;
            try
            {
                FileFacts facts = PosixStat.Look(file, path);
                if (facts.Kind != FileKind.Regular)
                {
                    throw new NotRegularFileException(path, facts.Kind);
                }

                Posix.Lock(file, wait: true, path);

                // While we waited, another may have put a new file in its place; that one is the log then.
                if (PosixStat.TryLook(path) is { } named && named.Identity.IsSameFile(facts.Identity))
                {
                    kept = true;
                    return file;
                }
            }
            finally
            {
                if (!kept)
                {
                    Posix.Unlock(file);
                    file.Dispose();
                }
            }
        }
    }

    /// <summary>What has to stand before the next line: nothing, a line end that was lost, or the mark of a torn line.</summary>
    private static ReadOnlySpan<byte> Closing(byte[] content)
    {
        if (content.Length == 0 || content[^1] == EventLine.End)
        {
            return [];
        }

        ReadOnlySpan<byte> tail = content.AsSpan(content.AsSpan().LastIndexOf(EventLine.End) + 1);
        return EventLine.TryRead(tail, out _) is null ? [EventLine.TornMark, EventLine.End] : [EventLine.End];
    }

    private static void TakeBack(SafeFileHandle file, long bytes, string path)
    {
        try
        {
            Posix.Truncate(file, bytes, path);
        }
        catch (PosixException)
        {
            // The error that led here is the one to tell; what is left is a torn line or an event told twice, and readers know both.
        }
    }

    private static byte[] ReadAll(SafeFileHandle file, string path)
    {
        long bytes = SafeOpen.Identify(file).Bytes;
        if (bytes > MaxBytes)
        {
            throw new IOException($"{PathText.Printable(path)}: expected at most {MaxBytes} bytes, found {bytes}");
        }

        using MemoryStream content = new((int)bytes);
        FileDigest.ReadAll(file, path, content.Write, bytesRead: null, CancellationToken.None);
        return content.ToArray();
    }
}
