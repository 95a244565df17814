namespace Station.Evaluation.Judging;

/// <summary>What the record sheet of a side says that a judge may use. Without a sheet everything is null or empty.</summary>
public sealed record SheetFacts
{
    /// <summary>Speed, rev/min, as the sheet means it: 33 is 100/3; null without a sheet.</summary>
    public double? NominalRpm { get; init; }

    /// <summary>The side is mono; null without a sheet.</summary>
    public bool? Mono { get; init; }

    /// <summary>Length of each track, whole seconds as printed on a sleeve; empty without a sheet.</summary>
    public IReadOnlyList<double> TrackSeconds { get; init; } = [];

    /// <summary>True when there is a sheet.</summary>
    public bool Present => NominalRpm is not null;
}
