using System.Collections.Immutable;

namespace Station.Daemon.Configuration;

/// <summary>Rules between folders that no single key can check.</summary>
internal static class FolderRules
{
    /// <summary>Problems with where the station is to stand; empty when there are none.</summary>
    /// <param name="options">The station's own folders.</param>
    /// <param name="replicas">Folders of further copies.</param>
    public static ImmutableArray<string> Check(StationOptions options, params IEnumerable<(string Name, string Path)> replicas)
    {
        var problems = ImmutableArray.CreateBuilder<string>();
        foreach ((string key, string? folder) in new[] { ("Station.Folder", options.Folder), ("Station.Archive", options.Archive), ("Station.Listening", options.Listening) })
        {
            if (folder is { Length: > 0 } && !Path.IsPathFullyQualified(folder))
            {
                problems.Add($"{key}: '{folder}' is not an absolute path.");
            }
        }

        if (options.Folder.Length == 0)
        {
            problems.Add("Station.Folder: no station folder is named; set it, or pass --station.");
        }

        if (problems.Count > 0)
        {
            return problems.ToImmutable();
        }

        var folders = new StationFolders(options.Folder, options.Archive, options.Listening);
        (string Key, string Path)[] all =
        [
            ("inbox", folders.Inbox), ("working", folders.Working), ("held", folders.Held), ("refused", folders.Refused), ("archive", folders.Archive),
            ("listening", folders.Listening), ("reports", folders.Reports), ("state", folders.State),
            .. replicas.Where(r => Path.IsPathFullyQualified(r.Path)).Select(r => ($"of replica {r.Name}", Path.TrimEndingDirectorySeparator(Path.GetFullPath(r.Path)))),
        ];
        for (int i = 0; i < all.Length; i++)
        {
            for (int j = 0; j < all.Length; j++)
            {
                if (i != j && (all[j].Path + "/").StartsWith(all[i].Path + "/", StringComparison.Ordinal) && (i < j || all[i].Path != all[j].Path))
                {
                    problems.Add($"The folders {all[i].Key} ({all[i].Path}) and {all[j].Key} ({all[j].Path}) are the same or lie inside each other.");
                }
            }
        }

        return problems.ToImmutable();
    }
}
