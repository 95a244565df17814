using System.Collections.Immutable;
using Station.Archive.Durability;
using Station.Daemon.Configuration;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;
using Station.Daemon.Records;

namespace Station.Daemon.Listening;

/// <summary>Takes over published copies of a track whose names or tags are to change: the same job's, of the same frames, by the same encoders, as they were written.</summary>
internal sealed class PublishedSounds(ListeningPublisher publisher, StationFolders folders)
{
    /// <summary>What is published of a side by a job; null when nothing of it can be taken over.</summary>
    public (string Folder, ListedSide Side)? Find(Job job, string side, PublishedCopies? row) =>
        row is not null && row.Job == job.Id
        && publisher.Listed(row.Folder, RecordId.Parse(job.Capture.RecordId))?.Side(SideLetter.Of(side[0])) is { } listed
        && listed.Job == ListeningPaths.PublicationId(job.Id.Value, job.Capture.Sides, side)
            ? (row.Folder, listed)
            : null;

    /// <summary>Copies a track's files into a staging folder, where they get their new tags.</summary>
    /// <param name="from">As <see cref="Find"/> gave it.</param>
    /// <param name="encoders">What would be encoded: format, and name, version and settings of the encoder.</param>
    /// <param name="making">What would be done to the samples.</param>
    /// <param name="stem">Path in the staging folder, without extension.</param>
    /// <returns>What the track sounds like; null when it has to be encoded.</returns>
    public TrackSound? TakeOver(
        (string Folder, ListedSide Side) from, DividedTrack track, ImmutableArray<(string Format, string Encoder)> encoders, string making, string stem)
    {
        ListedTrack? listed = from.Side.Tracks.FirstOrDefault(t => t.Number == track.Number);
        if (listed?.Sound is not { } sound || sound.StartFrame != track.StartFrame || sound.EndFrame != track.EndFrame || sound.Making != making
            || listed.Files.Length != encoders.Length)
        {
            return null;
        }

        string folder = ListeningNames.Under(folders.Listening, from.Folder);
        foreach ((string format, string encoder) in encoders)
        {
            if (listed.Files.FirstOrDefault(f => f.Format == format && f.Encoder == encoder) is not { } file || !TryCopy(Path.Combine(folder, file.File), $"{stem}.{format}", file.Sha256))
            {
                foreach ((string made, _) in encoders)
                {
                    DurableFile.Delete($"{stem}.{made}");
                }

                return null;
            }
        }

        return sound;
    }

    // Checked after copying: what was checked is what is used.
    private static bool TryCopy(string path, string copy, string sha256)
    {
        if (SafeOpen.TryLook(path) is not { Kind: FileKind.Regular })
        {
            return false;
        }

        // Not File.Copy, which takes the file's mode along: somebody may have made it read-only.
        using (FileStream from = File.OpenRead(path))
        using (FileStream to = new(copy, FileMode.CreateNew))
        {
            from.CopyTo(to);
        }

        return FileDigest.Sha256(copy) == sha256;
    }
}
