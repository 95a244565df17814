using System.Collections.Immutable;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;

namespace Station.Daemon.Copies;

/// <summary>Every place bags lie at, the archive first.</summary>
internal sealed class CopyPlaceList(StationFolders folders, CopiesOptions options)
{
    public ImmutableArray<CopyPlace> All { get; } =
        [new(CopyPlaces.Archive, folders.Archive), .. options.Replicas.Select(r => new CopyPlace(r.Name, Path.TrimEndingDirectorySeparator(Path.GetFullPath(r.Folder))))];

    public CopyPlace Archive => All[0];

    public IEnumerable<CopyPlace> Replicas => All.Skip(1);

    /// <exception cref="ArgumentException">No place has this name.</exception>
    public CopyPlace this[string name] => All.FirstOrDefault(p => p.Name == name) ?? throw new ArgumentException($"There is no place '{name}'.", nameof(name));
}
