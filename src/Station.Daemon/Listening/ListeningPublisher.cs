using System.Collections.Immutable;
using Microsoft.Win32.SafeHandles;
using Station.Archive.Durability;
using Station.Archive.Fixity;
using Station.Daemon.Records;

namespace Station.Daemon.Listening;

/// <summary>
/// Puts a side's finished files from its staging folder into the record's listening folder, whole or not at all.
/// </summary>
/// <remarks>
/// <para>Order of writes, each one durable before the next: the record's folder; <c>record.json</c> claiming it; for each file a second name for the
/// old file that gives way (in the staging folder), then the rename into place; <c>record.json</c> listing the side (this is the commit); removal of what
/// the older take leaves; <c>record.json</c> without it; playlists and the sleeve's picture; the older place of the side; the staging folder.</para>
/// <para>Killed between any two of them, <see cref="Publish"/> with the same arguments goes on, and until the commit <see cref="Undo"/> takes everything back.
/// Files the service didn't put there, or that somebody changed since, are never overwritten, moved or removed.</para>
/// <para>Safe to use from several threads; one side is published at a time, since sides of a record share its record.json. One process at a time: the
/// station's lock sees to that.</para>
/// </remarks>
internal sealed partial class ListeningPublisher
{
    private readonly string _root;
    private readonly Action<string> _beforeStep;
    private readonly Lock _gate = new();

    /// <param name="root">The listening folder; must exist.</param>
    /// <param name="beforeStep">Called with a short description before every change on the disk; for tests that stop there.</param>
    public ListeningPublisher(string root, Action<string>? beforeStep = null)
    {
        _root = Path.TrimEndingDirectorySeparator(Path.GetFullPath(root));
        _beforeStep = beforeStep ?? (_ => { });
    }

    /// <summary>Publishes a side. Idempotent.</summary>
    /// <exception cref="StagedFilesLostException">Encode again.</exception>
    /// <exception cref="ListeningFolderException">A person has to look.</exception>
    /// <exception cref="IOException">A step failed (disk full, permission): try again later.</exception>
    public PublishedSide Publish(SidePublication publication)
    {
        Check(publication);
        lock (_gate)
        {
            ImmutableArray<string>.Builder remarks = ImmutableArray.CreateBuilder<string>();
            (string folder, ListeningRecord record) = Claim(publication, remarks);
            RemoveTemporaries(folder);
            record = Tidy(folder, record);
            if (!ListeningPlan.IsCommitted(publication, record))
            {
                ListeningPlan plan = Place(publication, folder, record);
                remarks.AddRange(plan.Remarks);
                record = plan.Commit(publication, record);
                Step($"commit {folder}");
                Save(folder, record);
                record = Tidy(folder, record);
            }

            record = Dress(folder, record, publication.Summary, remarks);
            foreach (string previous in publication.PreviousFolders.Where(previous => previous != folder))
            {
                WithdrawFrom(previous, publication.Record, publication.Side);
            }

            DropStaging(publication.JobId);
            return new PublishedSide(folder, record.Side(publication.Side)!, remarks.ToImmutable());
        }
    }

    /// <summary>
    /// Takes back whatever a job had put in place without committing, restores what it had replaced, and removes its staging folder. Idempotent.
    /// </summary>
    /// <returns>False when the job had committed: nothing but its staging folder was touched; use <see cref="Withdraw"/>.</returns>
    public bool Undo(SidePublication publication)
    {
        Check(publication);
        lock (_gate)
        {
            bool committed = false;
            if (FindOwn(publication.Record, publication.Folder) is { } own)
            {
                committed = ListeningPlan.IsCommitted(publication, own.Record);
                if (!committed)
                {
                    RemoveTemporaries(own.Folder);
                    TakeBack(publication, own.Folder, own.Record);
                    RemoveIfUnused(own.Folder, own.Record);
                }
            }

            DropStaging(publication.JobId);
            return !committed;
        }
    }

    /// <summary>Removes a job's staging folder and nothing else: for jobs that never came to publish.</summary>
    public void DiscardStaging(string jobId)
    {
        lock (_gate)
        {
            DropStaging(jobId);
        }
    }

    /// <summary>Takes a published side out of a record's folder; files somebody changed stay. Idempotent.</summary>
    /// <param name="folder">As <see cref="PublishedSide.Folder"/> said.</param>
    public void Withdraw(string folder, RecordId record, SideLetter side)
    {
        lock (_gate)
        {
            WithdrawFrom(folder, record, side);
        }
    }

    /// <summary>
    /// Takes sides of a record out of its folders as far as it was this job that published them; files somebody changed stay. Finishes what a stop cut short.
    /// Idempotent.
    /// </summary>
    public void WithdrawOf(string jobId, RecordId record, IReadOnlyCollection<SideLetter> sides)
    {
        lock (_gate)
        {
            foreach ((string folder, ListeningRecord listed) in Enumerate().Where(f => RecordId.Parse(f.Record.Record) == record).ToArray())
            {
                foreach (SideLetter side in sides.Where(side => listed.Side(side)?.Job == jobId))
                {
                    WithdrawFrom(folder, record, side);
                }

                if (Load(folder, out _) is { } left && (!left.Leaving.IsEmpty || (left.Sides.IsEmpty && NamesIn(folder).All(name => name == ListeningPaths.RecordFile || left.Beside.Any(f => f.File == name)))))
                {
                    RemoveIfUnused(folder, Tidy(folder, left));
                }
            }
        }
    }

    /// <summary>
    /// Every record folder below the listening folder with what it lists, in the order of names: for rebuilding the state. Folders without a usable
    /// record.json are left out.
    /// </summary>
    public IEnumerable<(string Folder, ListeningRecord Record)> Enumerate()
    {
        foreach (string artist in FoldersIn(_root))
        {
            foreach (string title in FoldersIn(Path.Combine(_root, artist)))
            {
                string folder = artist + "/" + title;
                if (SafeName.IsSafe(artist) && SafeName.IsSafe(title) && Load(folder, out _) is { } record)
                {
                    yield return (folder, record);
                }
            }
        }
    }

    /// <summary>What a folder's record.json says, when the folder is this record's; null otherwise.</summary>
    public ListeningRecord? Listed(string folder, RecordId record)
    {
        lock (_gate)
        {
            return Load(folder, out _) is { } listed && RecordId.Parse(listed.Record) == record ? listed : null;
        }
    }

    private static void Check(SidePublication publication)
    {
        if (publication.Folder.Split('/') is not [var artist, var title] || !SafeName.IsSafe(artist) || !SafeName.IsSafe(title))
        {
            throw new ArgumentException($"{TextRules.Quote(publication.Folder)} is no record folder.", nameof(publication));
        }

        if (publication.Tracks.IsEmpty || publication.Tracks.Any(t => t.Files.IsEmpty))
        {
            throw new ArgumentException("A side has tracks and each track has a file.", nameof(publication));
        }

        var staged = new HashSet<string>(StringComparer.Ordinal);
        foreach (StagedFile file in publication.Files())
        {
            if (!SafeName.IsSafe(file.StagedName) || !staged.Add(file.StagedName))
            {
                throw new ArgumentException($"{TextRules.Quote(file.StagedName)} is no name for a staged file, or used twice.", nameof(publication));
            }

            if (!SafeName.IsSafe(file.TargetName) || SafeName.Key(file.TargetName) == SafeName.Key(ListeningPaths.RecordFile))
            {
                throw new ArgumentException($"{TextRules.Quote(file.TargetName)} is no name for a listening copy.", nameof(publication));
            }
        }
    }

    /// <summary>The record's folder, its own already or claimed now.</summary>
    private (string Folder, ListeningRecord Record) Claim(SidePublication publication, ImmutableArray<string>.Builder remarks)
    {
        if (FindOwn(publication.Record, publication.Folder) is { } own)
        {
            return own;
        }

        string artist = publication.Folder.Split('/')[0];
        string title = publication.Folder.Split('/')[1];
        for (int n = 1; ; n++)
        {
            string name = SafeName.Numbered(title, n, hasExtension: false);
            string folder = artist + "/" + name;
            RequireFolderOrNothing(artist);
            string[] present = [.. NamesIn(artist).Where(other => SafeName.Key(other) == SafeName.Key(name))];
            bool free = present.Length == 0 || (present is [var only] && only == name && IsEmptyFolder(folder));
            if (!free)
            {
                remarks.Add($"{TextRules.Quote(artist + "/" + present[0])} belongs to another record or to somebody else.");
                continue;
            }

            Step($"folder {folder}");
            DurableFile.CreateFolder(ListeningNames.Under(_root, folder));
            var record = ListeningRecord.Claim(publication.Record);
            Step($"claim {folder}");
            try
            {
                DurableFile.WriteNew(RecordPath(folder), record.ToBytes());
                return (folder, record);
            }
            catch (PosixException e) when (e.IsExists)
            {
                // Somebody else claimed it since the look; try the next name.
            }
        }
    }

    private (string Folder, ListeningRecord Record)? FindOwn(RecordId record, string wanted)
    {
        string artist = wanted.Split('/')[0];
        string title = wanted.Split('/')[1];
        RequireFolderOrNothing(artist);
        string[] names = [.. NamesIn(artist)];
        for (int n = 1; n <= names.Length + 1; n++)
        {
            string key = SafeName.Key(SafeName.Numbered(title, n, hasExtension: false));
            foreach (string name in names.Where(name => SafeName.Key(name) == key && SafeName.IsSafe(name)))
            {
                string folder = artist + "/" + name;
                if (Load(folder, out _) is { } found && RecordId.Parse(found.Record) == record)
                {
                    return (folder, found);
                }
            }
        }

        return null;
    }

    private ListeningPlan Place(SidePublication publication, string folder, ListeningRecord record)
    {
        string staging = ListeningPaths.Staging(_root, publication.JobId);
        string replaced = Path.Combine(staging, ListeningPaths.ReplacedFolder);
        string target = ListeningNames.Under(_root, folder);
        ListeningPlan plan = ListeningPlan.Make(publication, record, View(publication, folder));
        if (!plan.Lost.IsEmpty)
        {
            throw new StagedFilesLostException(
                $"{TextRules.Quote(folder)}, side {publication.Side}: {TextRules.Quote(plan.Lost[0].StagedName)} is neither staged nor in place ({plan.Lost.Length} of {publication.Files().Count()} files); the side has to be encoded again");
        }

        foreach (Placement placement in plan.Placements)
        {
            if (placement.Kind == PlacementKind.InPlace)
            {
                continue;
            }

            string from = Path.Combine(staging, placement.File.StagedName);
            string to = Path.Combine(target, placement.Name);
            Verify(from, placement.File);
            DurableFile.Sync(from);
            switch (placement.Kind)
            {
                case PlacementKind.Replace:
                    Step($"keep {placement.Name}");
                    DurableFile.CreateFolder(replaced);
                    KeepOld(to, Path.Combine(replaced, placement.Name));
                    Step($"replace {placement.Name}");
                    DurableFile.RenameReplace(from, to);
                    break;
                case PlacementKind.Respell:
                    Step($"keep {placement.OldName}");
                    DurableFile.CreateFolder(replaced);
                    DurableFile.RenameNoReplace(Path.Combine(target, placement.OldName!), Path.Combine(replaced, placement.OldName!));
                    goto default;
                default:
                    Step($"place {placement.Name}");
                    DurableFile.RenameNoReplace(from, to);
                    break;
            }
        }

        return plan;
    }

    private static void KeepOld(string path, string second)
    {
        // An attempt that was killed before the rename left the second name already; the old file under its first name is still the same one.
        DurableFile.Delete(second);
        DurableFile.LinkOrCopy(path, second);
    }

    private static void Verify(string path, StagedFile file)
    {
        string found = FileDigest.Sha256(path);
        if (found != file.Sha256)
        {
            throw new StagedFilesLostException($"{TextRules.Quote(file.StagedName)}: expected SHA-256 {file.Sha256}, found {found}; the side has to be encoded again");
        }
    }

    /// <summary>Removes what an earlier commit left to be removed, and says so in record.json.</summary>
    private ListeningRecord Tidy(string folder, ListeningRecord record)
    {
        if (record.Leaving.IsEmpty)
        {
            return record;
        }

        string target = ListeningNames.Under(_root, folder);
        HashSet<string> listed = [.. record.Sides.SelectMany(s => s.Files()).Select(f => SafeName.Key(f.File))];
        foreach (LeavingFile file in record.Leaving.Where(f => !listed.Contains(SafeName.Key(f.File))))
        {
            string path = Path.Combine(target, file.File);
            if (DigestOrNull(path) == file.Sha256)      // changed by somebody since: no longer ours to remove
            {
                Step($"remove {file.File}");
                DurableFile.Delete(path);
            }
        }

        record = record with { Leaving = [] };
        Step($"settle {folder}");
        Save(folder, record);
        return record;
    }

    /// <summary>Removes what a run that was killed while it wrote record.json left beside it.</summary>
    private void RemoveTemporaries(string folder)
    {
        string target = ListeningNames.Under(_root, folder);
        foreach (string path in Directory.EnumerateFiles(target).Where(f => DurableFile.IsTemporaryName(Path.GetFileName(f))).ToArray())
        {
            Step($"remove {Path.GetFileName(path)}");
            DurableFile.Delete(path);
        }
    }

    private void TakeBack(SidePublication publication, string folder, ListeningRecord record)
    {
        string target = ListeningNames.Under(_root, folder);
        string replaced = Path.Combine(ListeningPaths.Staging(_root, publication.JobId), ListeningPaths.ReplacedFolder);
        Dictionary<string, string> listed = record.Sides.SelectMany(s => s.Files()).ToDictionary(f => f.File, f => f.Sha256, StringComparer.Ordinal);
        foreach (Placement placement in ListeningPlan.Make(publication, record, View(publication, folder)).Placements.Where(p => p.Kind == PlacementKind.InPlace))
        {
            string path = Path.Combine(target, placement.Name);
            string old = Path.Combine(replaced, placement.Name);
            if (SafeOpen.TryLook(old) is not null)
            {
                Step($"restore {placement.Name}");
                DurableFile.RenameReplace(old, path);
            }
            else if (!listed.TryGetValue(placement.Name, out string? sha256) || sha256 != placement.File.Sha256)
            {
                Step($"take back {placement.Name}");
                DurableFile.Delete(path);
            }
        }

        if (SafeOpen.TryLook(replaced) is null)
        {
            return;
        }

        foreach (string name in Directory.EnumerateFiles(replaced).Select(p => Path.GetFileName(p)).Order(StringComparer.Ordinal).ToArray())
        {
            string path = Path.Combine(target, name);
            if (SafeOpen.TryLook(path) is null)
            {
                Step($"restore {name}");
                DurableFile.RenameNoReplace(Path.Combine(replaced, name), path);
            }
        }
    }

    private void WithdrawFrom(string folder, RecordId id, SideLetter side)
    {
        if (Load(folder, out _) is not { } record || RecordId.Parse(record.Record) != id)
        {
            return;
        }

        RemoveTemporaries(folder);
        if (record.Side(side) is not null)
        {
            record = ListeningPlan.Withdraw(record, side);
            Step($"withdraw {folder}");
            Save(folder, record);
        }

        record = Tidy(folder, record);
        RemoveIfUnused(folder, record.Sides.IsEmpty || record.Beside.IsEmpty ? record : Dress(folder, record, summary: null, ImmutableArray.CreateBuilder<string>()));
    }

    /// <summary>Removes record.json when it lists nothing, then the folder and the artist's when they are empty.</summary>
    private void RemoveIfUnused(string folder, ListeningRecord record)
    {
        if (!record.Sides.IsEmpty || !record.Leaving.IsEmpty)
        {
            return;
        }

        RemoveBeside(folder, record);
        Step($"unclaim {folder}");
        DurableFile.Delete(RecordPath(folder));
        string path = ListeningNames.Under(_root, folder);
        foreach (string empty in (string[])[path, Path.GetDirectoryName(path)!])
        {
            if (Directory.EnumerateFileSystemEntries(empty).Any())
            {
                return;
            }

            Step($"remove folder {Path.GetFileName(empty)}");
            Directory.Delete(empty, recursive: false);
            DurableFile.SyncFolder(Path.GetDirectoryName(empty)!);
        }
    }

    private FolderView View(SidePublication publication, string folder)
    {
        string target = ListeningNames.Under(_root, folder);
        string staging = ListeningPaths.Staging(_root, publication.JobId);
        var digests = new Dictionary<string, string?>(StringComparer.Ordinal);
        return new FolderView(
            [.. NamesIn(folder)],
            name => digests.TryGetValue(name, out string? known) ? known : digests[name] = DigestOrNull(Path.Combine(target, name)),
            file => SafeOpen.TryLook(Path.Combine(staging, file.StagedName)) is { Kind: FileKind.Regular });
    }

    /// <summary>record.json of a folder, or null with the reason when there is none that can be used.</summary>
    private ListeningRecord? Load(string folder, out string? reason)
    {
        string path = RecordPath(folder);
        if (SafeOpen.TryLook(ListeningNames.Under(_root, folder)) is not { Kind: FileKind.Folder } || SafeOpen.TryLook(path) is not { Kind: FileKind.Regular })
        {
            reason = "there is no record.json";
            return null;
        }

        using SafeFileHandle file = SafeOpen.OpenRegular(path, out FileIdentity identity);
        if (identity.Bytes > ListeningRecord.MaxBytes)
        {
            reason = "record.json is too large";
            return null;
        }

        byte[] content = new byte[identity.Bytes];
        int length = 0;
        for (int read; length < content.Length && (read = RandomAccess.Read(file, content.AsSpan(length), length)) > 0;)
        {
            length += read;
        }

        return ListeningRecord.TryParse(content.AsSpan(0, length), out ListeningRecord? record, out reason) ? record : null;
    }

    private void Save(string folder, ListeningRecord record) => DurableFile.Replace(RecordPath(folder), record.ToBytes());

    private void DropStaging(string jobId)
    {
        string staging = ListeningPaths.Staging(_root, jobId);
        if (SafeOpen.TryLook(staging) is not null)
        {
            Step($"drop staging {jobId}");
            DurableFile.DeleteFolder(staging);
        }
    }

    private string RecordPath(string folder) => Path.Combine(ListeningNames.Under(_root, folder), ListeningPaths.RecordFile);

    /// <summary>Names below the root must be folders themselves: a link would lead what is written elsewhere.</summary>
    private void RequireFolderOrNothing(string relative)
    {
        if (SafeOpen.TryLook(ListeningNames.Under(_root, relative)) is { Kind: not FileKind.Folder and var kind })
        {
            throw new ListeningFolderException(
                $"{TextRules.Quote(relative)} in the listening folder: expected a folder, found {(kind == FileKind.SymbolicLink ? "a link" : "a file")}; rename or remove it");
        }
    }

    private bool IsEmptyFolder(string relative) =>
        SafeOpen.TryLook(ListeningNames.Under(_root, relative)) is { Kind: FileKind.Folder } && !NamesIn(relative).Any();

    private IEnumerable<string> NamesIn(string relative)
    {
        string path = ListeningNames.Under(_root, relative);
        return SafeOpen.TryLook(path) is { Kind: FileKind.Folder }
            ? Directory.EnumerateFileSystemEntries(path).Select(p => Path.GetFileName(p)).Where(name => !DurableFile.IsTemporaryName(name))
            : [];
    }

    private static IEnumerable<string> FoldersIn(string path) => Directory.EnumerateDirectories(path)
        .Where(p => SafeOpen.TryLook(p) is { Kind: FileKind.Folder })
        .Select(p => Path.GetFileName(p))
        .Order(StringComparer.Ordinal);

    private static string? DigestOrNull(string path)
    {
        try
        {
            return FileDigest.Sha256(path);
        }
        catch (NotRegularFileException)
        {
            return null;
        }
        catch (PosixException e) when (SafeOpen.TryLook(path) is null)
        {
            _ = e;
            return null;
        }
    }

    private void Step(string description) => _beforeStep(description);
}
