using Station.Archive.Durability;
using Station.Archive.Events;

namespace Station.Archive.Copies;

/// <summary>What stands beside the bags in a record's folder, its history and pictures, brought to another place.</summary>
public static class RecordFolderCopy
{
    /// <summary>Name of a record's history.</summary>
    public const string EventLogName = "events.jsonl";

    /// <summary>
    /// Makes the other folder's history what the first one's is, and adds pictures it lacks. A history at the other place is only replaced when every event in it
    /// stands in the new one too: what was appended is never lost.
    /// </summary>
    /// <param name="folder">A record's folder.</param>
    /// <param name="copy">The same record's folder at the other place; made when absent and something is to be copied.</param>
    /// <exception cref="IOException">A step failed, or the other place holds events that the first lacks; everything is as it was.</exception>
    public static void Bring(string folder, string copy)
    {
        ArgumentException.ThrowIfNullOrEmpty(folder);
        ArgumentException.ThrowIfNullOrEmpty(copy);
        string log = Path.Combine(folder, EventLogName);
        if (PosixStat.TryLook(log) is not null)
        {
            DurableFile.CreateFolder(copy);
            BringLog(log, Path.Combine(copy, EventLogName));
        }

        foreach (string file in Directory.EnumerateFiles(folder, "sleeve-*"))
        {
            string target = Path.Combine(copy, Path.GetFileName(file));      // named by its digest: the same name is the same picture
            if (PosixStat.TryLook(target) is null)
            {
                DurableFile.CreateFolder(copy);
                DurableFile.Copy(file, target);
            }
        }
    }

    private static void BringLog(string log, string copy)
    {
        byte[] content = EventLog.WholeLines(log);
        byte[] present = PosixStat.TryLook(copy) is null ? [] : EventLog.WholeLines(copy);
        if (content.AsSpan().SequenceEqual(present))
        {
            return;
        }

        if (!content.AsSpan().StartsWith(present))
        {
            HashSet<Guid> known = [.. EventLogText.Read(content).Events.Select(e => e.Id)];
            RecordEvent? extra = EventLogText.Read(present).Events.FirstOrDefault(e => !known.Contains(e.Id));
            if (extra is not null)
            {
                throw new IOException(
                    $"{PathText.Printable(copy)} holds an event ({extra.Type}, {extra.At:u}) that {PathText.Printable(log)} lacks: the archive is older than its copy, and the copy is left alone");
            }
        }

        DurableFile.Replace(copy, content);
    }
}
