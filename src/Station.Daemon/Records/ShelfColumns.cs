using System.Collections.Immutable;

namespace Station.Daemon.Records;

/// <summary>Every column a shelf list may have. Spelling in upper or lower case makes no difference.</summary>
internal static class ShelfColumns
{
    public const string Record = "record";
    public const string Side = "side";

    /// <summary>Said of the record: the same in all its rows, or left empty in all but one.</summary>
    public static readonly ImmutableArray<string> OfRecord =
        ["artist", "title", "compilation", "label", "catalogue", "year", "genre", "speed", "curve", "playedAt", "playedThrough"];

    /// <summary>Said of a side, likewise.</summary>
    public static readonly ImmutableArray<string> OfSide = ["mono", "absent"];

    /// <summary>One row a track.</summary>
    public static readonly ImmutableArray<string> OfTrack = ["track", "trackTitle", "trackArtist", "composer", "length"];

    /// <summary>One row a side.</summary>
    public static readonly ImmutableArray<string> OfTracks = ["trackCount", "trackTitles", "trackLengths"];

    public static readonly ImmutableArray<string> All = [Record, .. OfRecord, Side, .. OfSide, .. OfTrack, .. OfTracks];
}
