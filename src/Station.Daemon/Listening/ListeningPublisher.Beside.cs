using System.Collections.Immutable;
using System.Security.Cryptography;
using Station.Archive.Durability;
using Station.Daemon.Records;

namespace Station.Daemon.Listening;

/// <summary>What lies beside the copies: playlists and the sleeve's picture.</summary>
/// <remarks>
/// Each file is listed in record.json before it is written, beside what it replaces, and the older entry goes once it is in place: killed in between, what lies
/// there is still known as the service's own.
/// </remarks>
internal sealed partial class ListeningPublisher
{
    /// <summary>Brings the files beside the copies up to date. A name that bears somebody else's file is left to it.</summary>
    /// <param name="summary">Null: the playlists follow the sides that are listed, all else stays.</param>
    private ListeningRecord Dress(string folder, ListeningRecord record, RecordSummary? summary, ImmutableArray<string>.Builder remarks)
    {
        List<(string Name, byte[] Content, string Sha256)> wanted = [];
        bool playlists = summary?.Playlists ?? record.Beside.Any(f => Playlist.IsName(f.File));
        foreach ((string name, byte[] content) in playlists ? Playlist.Of(record) : [])
        {
            wanted.Add((name, content, Sha256(content)));
        }

        if (summary?.Sleeve is { } sleeve)
        {
            byte[] content = sleeve.Data.ToArray();
            wanted.Add((ListeningPaths.CoverName(sleeve.MediaType), content, Sha256(content)));
        }

        string[] kept = summary is null ? [.. record.Beside.Select(f => f.File).Where(name => !Playlist.IsName(name))] : [];
        if (wanted.TrueForAll(w => record.Beside.Any(f => f.File == w.Name && f.Sha256 == w.Sha256)) && record.Beside.Length == wanted.Count + kept.Length
            && wanted.TrueForAll(w => DigestOrNull(BesidePath(folder, w.Name)) == w.Sha256))
        {
            return record;
        }

        ILookup<string, string> present = NamesIn(folder).ToLookup(SafeName.Key, StringComparer.Ordinal);
        wanted.RemoveAll(w => !IsOurs(folder, record, w.Name, w.Sha256, present, remarks));
        record = record with { Beside = [.. record.Beside.Concat(wanted.Select(w => new LeavingFile(w.Name, w.Sha256))).Distinct()] };
        Step($"list beside {folder}");
        Save(folder, record);
        foreach ((string name, byte[] content, string sha256) in wanted)
        {
            string path = BesidePath(folder, name);
            if (DigestOrNull(path) != sha256)
            {
                Step($"beside {name}");
                DurableFile.Replace(path, content);
            }
        }

        ImmutableArray<LeavingFile> now = [.. record.Beside.Where(f => kept.Contains(f.File) || wanted.Exists(w => w.Name == f.File && w.Sha256 == f.Sha256))];
        RemoveBeside(folder, record with { Beside = [.. record.Beside.Where(f => !now.Any(n => n.File == f.File))] });
        record = record with { Beside = now };
        Step($"settle beside {folder}");
        Save(folder, record);
        return record;
    }

    /// <summary>Removes the files beside the copies that are listed and as they were written.</summary>
    private void RemoveBeside(string folder, ListeningRecord record)
    {
        foreach (LeavingFile file in record.Beside)
        {
            string path = BesidePath(folder, file.File);
            if (DigestOrNull(path) == file.Sha256)
            {
                Step($"remove {file.File}");
                DurableFile.Delete(path);
            }
        }
    }

    private bool IsOurs(string folder, ListeningRecord record, string name, string sha256, ILookup<string, string> present, ImmutableArray<string>.Builder remarks)
    {
        foreach (string other in present[SafeName.Key(name)])
        {
            string? found = DigestOrNull(BesidePath(folder, other));
            if (other != name || (found != sha256 && !record.Beside.Any(f => f.File == name && f.Sha256 == found)))
            {
                remarks.Add($"{TextRules.Quote(other)} isn't the service's or was changed by somebody; {TextRules.Quote(name)} was not written.");
                return false;
            }
        }

        return true;
    }

    private string BesidePath(string folder, string name) => Path.Combine(ListeningNames.Under(_root, folder), name);

    private static string Sha256(byte[] content) => Convert.ToHexStringLower(SHA256.HashData(content));
}
