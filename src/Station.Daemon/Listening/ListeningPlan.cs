using System.Collections.Immutable;
using Station.Daemon.Records;

namespace Station.Daemon.Listening;

/// <summary>What to do with one staged file.</summary>
internal enum PlacementKind
{
    /// <summary>It is under its final name already: an earlier attempt got so far.</summary>
    InPlace,

    /// <summary>The name is free.</summary>
    Add,

    /// <summary>The name is borne by a file of an older take of this side, which gives way.</summary>
    Replace,

    /// <summary>As <see cref="Replace"/>, but the old file's name is spelt differently (case, accents) and has to be moved away first.</summary>
    Respell,
}

/// <param name="File">The staged file.</param>
/// <param name="Name">Its name in the record's folder.</param>
/// <param name="Kind">How it gets there.</param>
/// <param name="OldName">For <see cref="PlacementKind.Respell"/>: the old file.</param>
internal sealed record Placement(StagedFile File, string Name, PlacementKind Kind, string? OldName = null);

/// <summary>What lies in the record's folder, as the plan needs to know it.</summary>
/// <param name="Names">Every name in the folder but temporary ones.</param>
/// <param name="Sha256">Digest of a file by its name; null when it is no regular file.</param>
/// <param name="IsStaged">Whether a file is still in the staging folder.</param>
internal sealed record FolderView(IReadOnlyCollection<string> Names, Func<string, string?> Sha256, Func<StagedFile, bool> IsStaged);

/// <summary>
/// Decides where each file of a side goes. Depends on nothing but the staged list, record.json and the disk as they are now, and gives the same
/// names again after any number of its placements were carried out: that is what makes a restart safe.
/// </summary>
internal sealed record ListeningPlan(ImmutableArray<Placement> Placements, ImmutableArray<StagedFile> Lost, ImmutableArray<string> Remarks)
{
    /// <summary>Files are placed in the order of the list, so that a name taken by an earlier one is taken for a later one.</summary>
    public static ListeningPlan Make(SidePublication publication, ListeningRecord record, FolderView folder)
    {
        ILookup<string, string> onDisk = folder.Names.ToLookup(SafeName.Key, StringComparer.Ordinal);
        Dictionary<string, ListedFile> ours = (record.Side(publication.Side)?.Files() ?? []).ToDictionary(f => f.File, StringComparer.Ordinal);
        HashSet<string> ofOtherSides = [.. record.Sides.Where(s => s.Side != publication.Side.ToString()).SelectMany(s => s.Files()).Select(f => SafeName.Key(f.File))];
        var chosen = new HashSet<string>(StringComparer.Ordinal) { SafeName.Key(ListeningPaths.RecordFile) };
        ImmutableArray<Placement>.Builder placements = ImmutableArray.CreateBuilder<Placement>();
        ImmutableArray<StagedFile>.Builder lost = ImmutableArray.CreateBuilder<StagedFile>();
        ImmutableArray<string>.Builder remarks = ImmutableArray.CreateBuilder<string>();
        foreach (StagedFile file in publication.Files())
        {
            Placement? placement = folder.IsStaged(file) ? Place(file) : Find(file);
            if (placement is null)
            {
                lost.Add(file);
                continue;
            }

            chosen.Add(SafeName.Key(placement.Name));
            placements.Add(placement);
            if (placement.Name != file.TargetName)
            {
                remarks.Add($"{TextRules.Quote(file.TargetName)} is taken by a file that isn't this side's or was changed by somebody; published as {TextRules.Quote(placement.Name)}.");
            }
        }

        return new ListeningPlan(placements.ToImmutable(), lost.ToImmutable(), remarks.ToImmutable());

        Placement Place(StagedFile file)
        {
            for (int n = 1; ; n++)       // ends: one number more than there are names is always free
            {
                string name = SafeName.Numbered(file.TargetName, n, hasExtension: true);
                string key = SafeName.Key(name);
                if (chosen.Contains(key) || ofOtherSides.Contains(key))
                {
                    continue;
                }

                string[] present = [.. onDisk[key]];
                if (present.Length == 0)
                {
                    return new Placement(file, name, PlacementKind.Add);
                }

                if (present.Length == 1 && ours.TryGetValue(present[0], out ListedFile? old) && folder.Sha256(present[0]) == old.Sha256)
                {
                    return present[0] == name
                        ? new Placement(file, name, PlacementKind.Replace)
                        : new Placement(file, name, PlacementKind.Respell, present[0]);
                }
            }
        }

        Placement? Find(StagedFile file)
        {
            for (int n = 1; n <= folder.Names.Count + chosen.Count + 1; n++)
            {
                string name = SafeName.Numbered(file.TargetName, n, hasExtension: true);
                string key = SafeName.Key(name);
                if (!chosen.Contains(key) && !ofOtherSides.Contains(key) && onDisk[key].Contains(name, StringComparer.Ordinal) && folder.Sha256(name) == file.Sha256)
                {
                    return new Placement(file, name, PlacementKind.InPlace);
                }
            }

            return null;
        }
    }

    /// <summary>record.json after the side is in place: the side as published, and what is left of its older take as leaving.</summary>
    public ListeningRecord Commit(SidePublication publication, ListeningRecord record)
    {
        Dictionary<string, string> names = Placements.ToDictionary(p => p.File.StagedName, p => p.Name, StringComparer.Ordinal);
        var side = new ListedSide(
            publication.Side.ToString(),
            publication.Take,
            publication.Bags,
            publication.JobId,
            [.. publication.Tracks.Select(t => new ListedTrack(t.Number, t.Title,
                [.. t.Files.Select(f => new ListedFile(names[f.StagedName], f.Sha256, f.Bytes, f.Format) { Encoder = f.Encoder })]) { Sound = t.Sound })]);

        // By key: where case is ignored, the old spelling of a name opens the new file, and that must not be removed.
        HashSet<string> kept = [.. Placements.Select(p => SafeName.Key(p.Name))];
        IEnumerable<LeavingFile> old = (record.Side(publication.Side)?.Files() ?? []).Select(f => new LeavingFile(f.File, f.Sha256));
        return record with
        {
            Sides = [.. record.Sides.Where(s => s.Side != side.Side).Append(side).OrderBy(s => s.Side, StringComparer.Ordinal)],
            Artist = publication.Summary is { } summary ? summary.Artist : record.Artist,
            Title = publication.Summary is { } named ? named.Title : record.Title,
            SidesOnSheet = publication.Summary?.Sides ?? record.SidesOnSheet,
            Leaving = [.. record.Leaving.Concat(old).Where(f => !kept.Contains(SafeName.Key(f.File))).DistinctBy(f => f.File)],
        };
    }

    /// <summary>True when record.json lists just this job's files for the side: the commit has happened.</summary>
    public static bool IsCommitted(SidePublication publication, ListeningRecord record) =>
        record.Side(publication.Side) is { } side
        && side.Job == publication.JobId
        && side.Files().Select(f => f.Sha256).SequenceEqual(publication.Files().Select(f => f.Sha256));

    /// <summary>record.json after a side was taken out; its files are leaving.</summary>
    public static ListeningRecord Withdraw(ListeningRecord record, SideLetter side) => record with
    {
        Sides = [.. record.Sides.Where(s => s.Side != side.ToString())],
        Leaving = [.. record.Leaving.Concat((record.Side(side)?.Files() ?? []).Select(f => new LeavingFile(f.File, f.Sha256))).DistinctBy(f => f.File)],
    };
}
