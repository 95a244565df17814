using System.Collections.Immutable;

namespace Station.Daemon.Records;

/// <summary>Every key a record sheet may hold, by the place it may stand in. The published schema lists the same.</summary>
internal static class SheetKeys
{
    public static readonly ImmutableArray<string> Sheet =
    [
        "record", "artist", "title", "compilation", "label", "catalogue", "year", "genre", "speed", "curve", "playedAt", "playedThrough", "monoFrom",
        "discs", "sides", "expected",
    ];

    public static readonly ImmutableArray<string> Side = ["mono", "speed", "curve", "absent", "tracks"];

    public static readonly ImmutableArray<string> Track = ["title", "artist", "composer", "length"];

    public static readonly ImmutableArray<string> Expected = ["code", "side", "channel", "from", "to", "why"];
}
