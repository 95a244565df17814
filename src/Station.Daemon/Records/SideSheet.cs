using System.Collections.Immutable;

namespace Station.Daemon.Records;

/// <summary>One side of a record sheet.</summary>
internal sealed record SideSheet
{
    public required SideLetter Letter { get; init; }

    /// <summary>Null when the sheet doesn't say.</summary>
    public bool? Mono { get; init; }

    public NominalSpeed? Speed { get; init; }

    public ReplayCurve? Curve { get; init; }

    /// <summary>A blank side: no capture of it is awaited.</summary>
    public bool Absent { get; init; }

    /// <summary>Empty when the sheet lists none.</summary>
    public ImmutableArray<TrackSheet> Tracks { get; init; } = [];

    /// <summary>Null when the sheet lists no tracks.</summary>
    public int? TrackCount => Tracks.IsEmpty ? null : Tracks.Length;

    /// <summary>One entry for each track listed, null where the sheet gives no length.</summary>
    public ImmutableArray<double?> LengthsSeconds => [.. Tracks.Select(t => t.LengthSeconds)];
}

/// <summary>One track of a record sheet.</summary>
internal sealed record TrackSheet(string? Title, string? Artist, string? Composer, double? LengthSeconds);
