namespace Station.Evaluation.Faults;

/// <summary>A figure that the judge has to get right.</summary>
/// <param name="Name">See <see cref="Judging.MeasureNames"/>; also compared with the finding's own figure when the measure is absent and <paramref name="FromFinding"/>.</param>
/// <param name="Value">The planted value.</param>
/// <param name="Tolerance">Largest error that counts as right.</param>
/// <param name="FromFinding">The finding's figure means the same.</param>
public sealed record TrueFigure(string Name, double Value, double Tolerance, bool FromFinding);

/// <summary>What was planted in one side; all empty for a clean one.</summary>
public sealed class SideTruth
{
    /// <summary>Any of these codes is a detection.</summary>
    public List<string> Codes { get; } = [];

    /// <summary>Codes that may come with the fault and are no false alarm.</summary>
    public HashSet<string> Companions { get; } = new(StringComparer.Ordinal);

    /// <summary>0 left, 1 right; null when both or when the channel has no meaning.</summary>
    public int? Channel { get; set; }

    /// <summary>Where, seconds.</summary>
    public List<(double FromSeconds, double ToSeconds)> Spans { get; } = [];

    /// <summary>How places are compared.</summary>
    public PositionRule Rule { get; set; } = PositionRule.WholeSide;

    /// <summary>Tolerance of the place, seconds.</summary>
    public double PositionTolerance { get; set; }

    /// <summary>A place outside the tolerance makes it a miss, not only an error.</summary>
    public bool PlaceDecides { get; set; }

    /// <summary>Figures to compare.</summary>
    public List<TrueFigure> Figures { get; } = [];

    /// <summary>A finding graver than this is wrong even with the right code; null for no such rule.</summary>
    public Judging.ReportedSeverity? AtMost { get; set; }
}
