using Station.Archive.Copies;
using Station.Archive.Durability;

namespace Station.Daemon.Copies;

/// <summary>
/// Keeps histories and sleeve pictures of a replica's records as they are in the archive. Remembers what each record looked like, so that a round over records nobody
/// touched costs one look at each file.
/// </summary>
internal sealed class HistoryCopies(CopyPlace archive, CopyPlace place)
{
    private readonly Dictionary<string, (long Bytes, long ChangedTicks)> _seen = new(StringComparer.Ordinal);

    /// <summary>Copies what changed since the last call.</summary>
    /// <returns>Records that could not be brought, and why; they are tried again in the next call.</returns>
    public IReadOnlyList<(string Record, string Problem)> Bring(CancellationToken cancellationToken)
    {
        var problems = new List<(string, string)>();
        foreach (string folder in Directory.EnumerateDirectories(archive.Root))
        {
            cancellationToken.ThrowIfCancellationRequested();
            string record = Path.GetFileName(folder);
            if (record.StartsWith('.') || FileSystemFolders.IsOwn(record))
            {
                continue;
            }

            // The folder's own time tells of new pictures, the log's length of new events.
            var log = new FileInfo(Path.Combine(folder, RecordFolderCopy.EventLogName));
            (long, long) now = (log.Exists ? log.Length : -1, Directory.GetLastWriteTimeUtc(folder).Ticks);
            if (_seen.TryGetValue(record, out (long, long) before) && before == now)
            {
                continue;
            }

            try
            {
                RecordFolderCopy.Bring(folder, Path.Combine(place.Root, record));
                _seen[record] = now;
            }
            catch (IOException error)
            {
                problems.Add((record, error.Message));
            }
        }

        return problems;
    }
}
