namespace Station.Evaluation.Scoring;

/// <summary>How one side was judged against its truth.</summary>
public sealed record SideScore
{
    /// <summary>Names the side: class, row, number and seed.</summary>
    public required string Name { get; init; }

    /// <summary>The right finding was made, at the right place where the place decides, and not graver than it may be.</summary>
    public required bool Detected { get; init; }

    /// <summary>Gravest finding with the right code: note 0, review 1, retake 2; null when there is none.</summary>
    public int? Severity { get; init; }

    /// <summary>Codes of other findings of review or retake that the fault does not explain; a retake carries a star.</summary>
    public required IReadOnlyList<string> FalseAlarms { get; init; }

    /// <summary>Codes of other notes that the fault does not explain.</summary>
    public required IReadOnlyList<string> Notes { get; init; }

    /// <summary>Error of the place, seconds; null when no place was asked for or given.</summary>
    public double? PositionError { get; init; }

    /// <summary>The place is within its tolerance; null when no place was asked for or nothing was found.</summary>
    public bool? PositionRight { get; init; }

    /// <summary>Errors of figures by name, in the figure's unit; NaN where the judge gave none.</summary>
    public required IReadOnlyDictionary<string, double> FigureErrors { get; init; }

    /// <summary>Figures within their tolerance.</summary>
    public required int FiguresRight { get; init; }

    /// <summary>Time to make it, seconds.</summary>
    public double MakeSeconds { get; init; }

    /// <summary>Time to judge it, seconds.</summary>
    public double JudgeSeconds { get; init; }

    /// <summary>Its length, seconds.</summary>
    public double SideSeconds { get; init; }
}
