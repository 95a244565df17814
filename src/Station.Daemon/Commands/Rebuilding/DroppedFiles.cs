using System.Collections.Immutable;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;

namespace Station.Daemon.Commands.Rebuilding;

/// <summary>Where a dropped file lies, without the database's word for it.</summary>
internal sealed class DroppedFiles(StationFolders folders)
{
    private static readonly ImmutableArray<string> NotDropped = ["report.json", "reason.txt", "picture.svg", StationFolders.DiscardedText];

    /// <summary>The file of a job in the works; null when there is none.</summary>
    public string? InWorking(JobId job) => Only(Path.Combine(folders.JobWorking(job.Value), "capture"), _ => true);

    public string? InHeld(string label, string fileName) => Only(folders.HeldFolder(label), name => IsNamed(name, fileName));

    public string? InDiscarded(string label, string fileName) => Only(Path.Combine(folders.Discarded, label), name => IsNamed(name, fileName));

    public string? InRefused(string fileName) => Only(folders.Refused, name => IsNamed(name, fileName));

    public bool HasHeldFolder(string label) => Directory.Exists(folders.HeldFolder(label));

    public bool HasDiscardedFolder(string label) => Directory.Exists(Path.Combine(folders.Discarded, label));

    /// <summary>Why a take was discarded; null when nobody said.</summary>
    public string? WhyDiscarded(string label) => Path.Combine(folders.Discarded, label, StationFolders.DiscardedText) is var path && File.Exists(path) ? File.ReadAllText(path).TrimEnd('\n') : null;

    private string? Only(string folder, Func<string, bool> wanted) => !Directory.Exists(folder)
        ? null
        : Directory.EnumerateFiles(folder)
            .Where(f => wanted(Path.GetFileName(f)) && !DurableFile.IsTemporaryName(Path.GetFileName(f)) && SafeOpen.TryLook(f) is { Kind: FileKind.Regular })
            .Order(StringComparer.Ordinal).FirstOrDefault() is { } path
            ? folders.Relative(path)
            : null;

    /// <summary>Its own name, or the one it got where that was taken.</summary>
    private static bool IsNamed(string name, string fileName) =>
        name == fileName
        || (!NotDropped.Contains(name) && name.StartsWith(Path.GetFileNameWithoutExtension(fileName) + " (", StringComparison.Ordinal)
            && Path.GetExtension(name) == Path.GetExtension(fileName));
}
