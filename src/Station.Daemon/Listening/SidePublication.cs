using System.Collections.Immutable;
using Station.Daemon.Jobs;
using Station.Daemon.Records;

namespace Station.Daemon.Listening;

/// <summary>What one job has ready to be put in place: all tracks of one side, in every format, in the job's staging folder.</summary>
internal sealed record SidePublication
{
    /// <summary>1 to 64 letters, digits, hyphens; also names the staging folder.</summary>
    public required string JobId { get; init; }

    public required RecordId Record { get; init; }

    public required SideLetter Side { get; init; }

    public required int Take { get; init; }

    public required ImmutableArray<string> Bags { get; init; }

    /// <summary>Wanted folder below the listening folder, two safe parts: see <see cref="ListeningNames.RecordFolder"/>.</summary>
    public required string Folder { get; init; }

    /// <summary>Where the side's copies may lie from before, when a sheet changed artist or title; the side is taken out there once it is in its new place.</summary>
    public ImmutableArray<string> PreviousFolders { get; init; } = [];

    /// <summary>What the record's folder says of the record as a whole; null: left as it is.</summary>
    public RecordSummary? Summary { get; init; }

    public required ImmutableArray<StagedTrack> Tracks { get; init; }

    public IEnumerable<StagedFile> Files() => Tracks.SelectMany(t => t.Files);
}

/// <param name="Number">On the side, from 1.</param>
/// <param name="Title">For record.json; null when not known.</param>
/// <param name="Files">One for each format.</param>
internal sealed record StagedTrack(int Number, string? Title, ImmutableArray<StagedFile> Files)
{
    /// <inheritdoc cref="ListedTrack.Sound"/>
    public TrackSound? Sound { get; init; }
}

/// <summary>What a record's folder says of the record as a whole.</summary>
/// <param name="Artist">As the sheet says.</param>
/// <param name="Title">As the sheet says.</param>
/// <param name="Sides">The letters of the sides the sheet names, blank ones left out.</param>
/// <param name="Sleeve">The picture to lie beside the copies; null: none.</param>
/// <param name="Playlists">Whether playlists lie beside them.</param>
internal sealed record RecordSummary(string? Artist, string? Title, ImmutableArray<string> Sides, SleevePicture? Sleeve, bool Playlists);

/// <param name="StagedName">Its own name in the staging folder.</param>
/// <param name="TargetName">The name it wants in the record's folder.</param>
/// <param name="Sha256">Of the finished file, tags included; 64 lower-case hexadecimal digits.</param>
/// <param name="Bytes">Length.</param>
/// <param name="Format">Such as <c>flac</c>.</param>
internal sealed record StagedFile(string StagedName, string TargetName, string Sha256, long Bytes, string Format)
{
    /// <inheritdoc cref="ListedFile.Encoder"/>
    public string? Encoder { get; init; }
}

/// <summary>What was published.</summary>
/// <param name="Folder">The record's folder below the listening folder, <c>/</c> between its parts; may differ from the wanted one by a counter.</param>
/// <param name="Side">As it stands in record.json.</param>
/// <param name="Remarks">What the operator should know: names that were taken, files somebody changed.</param>
internal sealed record PublishedSide(string Folder, ListedSide Side, ImmutableArray<string> Remarks)
{
    /// <summary>Paths below the listening folder.</summary>
    public IEnumerable<(string Path, ListedFile File)> Paths() => Side.Files().Select(f => ($"{Folder}/{f.File}", f));
}
