using Station.Archive.Copies;
using Station.Archive.Durability;

namespace Station.Daemon.Configuration;

/// <summary>The folders of one station. The only place that knows their names.</summary>
internal sealed record StationFolders
{
    /// <summary>What the marker of an archive's root calls it; no replica may be called so.</summary>
    public const string ArchiveMarkerName = "archive";

    public StationFolders(string root, string? archive = null, string? listening = null, string? reports = null)
    {
        Root = Full(root);
        Archive = archive is null ? Path.Combine(Root, "archive") : Full(archive);
        Reports = reports is null ? Path.Combine(Root, "reports") : Full(reports);
        Listening = listening is null ? Path.Combine(Root, "listening") : Full(listening);
    }

    /// <summary>In the folder of a discarded take: why it was.</summary>
    public const string DiscardedText = "discarded.txt";

    public string Root { get; }

    /// <summary>Captures, sheets and pictures are dropped here; one flat folder.</summary>
    public string Inbox => Path.Combine(Root, "inbox");

    /// <summary>One folder per running job, on the inbox's file system.</summary>
    public string Working => Path.Combine(Root, "working");

    /// <summary>Takes that wait for the operator.</summary>
    public string Held => Path.Combine(Root, "held");

    /// <summary>What the operator discarded, kept for a while.</summary>
    public string Discarded => Path.Combine(Held, "discarded");

    /// <summary>Files that can't be taken, each with a plain-text reason.</summary>
    public string Refused => Path.Combine(Root, "refused");

    public string Archive { get; }

    public string Listening { get; }

    /// <summary>One JSON report per job.</summary>
    public string Reports { get; }

    public string State => Path.Combine(Root, "state");

    public string Database => Path.Combine(State, "station.db");

    /// <summary>Where a held take lies: its report, its picture and, while no bag holds it, the capture.</summary>
    public string HeldFolder(string label) => Path.Combine(Held, label);

    public string LockFile => Path.Combine(State, "station.lock");

    /// <summary>The local socket commands talk to the running service through.</summary>
    public string ControlSocket => Path.Combine(State, "control.sock");

    public string RecordArchive(string record) => Path.Combine(Archive, record);

    public string EventLog(string record) => Path.Combine(Archive, record, "events.jsonl");

    public string JobWorking(string jobId) => Path.Combine(Working, jobId);

    /// <summary>Makes every folder of the station that is missing, durably; all but the archive's, which may be a disk of its own that is away.</summary>
    public void Create()
    {
        foreach (string folder in new[] { Root, Inbox, Working, Held, Discarded, Refused, Listening, Reports, State })
        {
            DurableFile.CreateFolder(folder);
        }
    }

    /// <summary>Makes the archive's folder when it is missing, and its marker.</summary>
    /// <returns>The marker that is there now.</returns>
    /// <exception cref="InvalidDataException">The folder is marked as something else.</exception>
    public CopiesMarker CreateArchive(DateTimeOffset now)
    {
        DurableFile.CreateFolder(Archive);
        return CopiesMarker.Prepare(Archive, ArchiveMarkerName, now);
    }

    /// <summary>Why nothing may be written to the archive, in the operator's words; null when it is there and has its marker.</summary>
    public string? WhyNoArchive()
    {
        try
        {
            return !Directory.Exists(Archive) ? $"{Archive} is not there." : CopiesMarker.TryRead(Archive) switch
            {
                null => $"{Archive} has no marker: its disk or share is not mounted. When it is the archive all the same, say so once: stationd archive prepare.",
                { Name: not ArchiveMarkerName and var name } => $"{Archive} was prepared as '{name}', not as '{ArchiveMarkerName}': another disk is mounted there.",
                _ => null,
            };
        }
        catch (Exception error) when (error is IOException or UnauthorizedAccessException)
        {
            return $"{Archive} can't be read: {error.Message}";
        }
        catch (InvalidDataException error)
        {
            return error.Message;
        }
    }

    /// <exception cref="ArchiveAwayException">The archive is not there.</exception>
    public void RequireArchive()
    {
        if (WhyNoArchive() is { } why)
        {
            throw new ArchiveAwayException(why);
        }
    }

    /// <summary>Makes a record's folder in the archive. Everything that is written to the archive is written below one, so this is where a bare mount point is found out.</summary>
    /// <exception cref="ArchiveAwayException">The archive is not there.</exception>
    /// <exception cref="IOException">The folder can't be made.</exception>
    public string MakeRecordArchive(string record)
    {
        RequireArchive();
        string folder = RecordArchive(record);
        DurableFile.CreateFolder(folder);
        return folder;
    }

    /// <summary>Path relative to the station folder when it lies inside it, else absolute: what reports and the database keep.</summary>
    public string Relative(string path) =>
        path.StartsWith(Root + Path.DirectorySeparatorChar, StringComparison.Ordinal) ? path[(Root.Length + 1)..] : path;

    /// <summary>The inverse of <see cref="Relative"/>.</summary>
    public string Absolute(string path) => Path.IsPathRooted(path) ? path : Path.Combine(Root, path);

    /// <summary>Without a slash at the end, which people leave there: paths are told apart as text.</summary>
    private static string Full(string path) => Path.TrimEndingDirectorySeparator(Path.GetFullPath(path));
}
