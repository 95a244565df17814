namespace Station.Evaluation.Scoring;

/// <summary>One strength of one class, or one kind of clean side.</summary>
/// <param name="Class">Finding code, or <c>clean</c>.</param>
/// <param name="Row">The strength or the trap.</param>
/// <param name="Must">Counts against the goal.</param>
/// <param name="Scores">Its sides.</param>
public sealed record RowSummary(string Class, string Row, bool Must, IReadOnlyList<SideScore> Scores)
{
    /// <summary>Sides.</summary>
    public int Count => Scores.Count;

    /// <summary>Sides on which the fault was found.</summary>
    public int Detected => Scores.Count(s => s.Detected);

    /// <summary>Sides with a finding of review or retake that nothing planted explains.</summary>
    public int WithFalseAlarm => Scores.Count(s => s.FalseAlarms.Count > 0);

    /// <summary>Of those, sides told to be played again.</summary>
    public int WithFalseRetake => Scores.Count(s => s.FalseAlarms.Any(f => f.EndsWith('*')));

    /// <summary>Places that were asked for on sides where the fault was found.</summary>
    public int Placed => Scores.Count(s => s.PositionRight is not null);

    /// <summary>Places within their tolerance.</summary>
    public int PlacedRight => Scores.Count(s => s.PositionRight == true);

    /// <summary>Middle magnitude of the errors of place, seconds; null when there are none.</summary>
    public double? MiddlePositionError => Middle(Scores.Where(s => s.PositionError is not null).Select(s => Math.Abs(s.PositionError ?? 0)));

    /// <summary>Figures asked for on sides where the fault was found.</summary>
    public int Figures => Scores.Sum(s => s.FigureErrors.Count);

    /// <summary>Figures within their tolerance.</summary>
    public int FiguresRight => Scores.Sum(s => s.FiguresRight);

    /// <summary>Middle magnitude of a figure's error by name; NaN where no side had a figure.</summary>
    public IReadOnlyDictionary<string, double> MiddleFigureErrors => Scores.SelectMany(s => s.FigureErrors).GroupBy(f => f.Key, StringComparer.Ordinal)
        .ToDictionary(g => g.Key, g => Middle(g.Select(f => Math.Abs(f.Value)).Where(double.IsFinite)) ?? double.NaN, StringComparer.Ordinal);

    private static double? Middle(IEnumerable<double> values)
    {
        double[] sorted = [.. values.Order()];
        return sorted.Length == 0 ? null : sorted[sorted.Length / 2];
    }
}
