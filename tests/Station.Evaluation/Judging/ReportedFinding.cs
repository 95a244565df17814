namespace Station.Evaluation.Judging;

/// <summary>How grave a finding is.</summary>
public enum ReportedSeverity
{
    /// <summary>A remark.</summary>
    Note,

    /// <summary>A person decides.</summary>
    Review,

    /// <summary>Play the side again.</summary>
    Retake,
}

/// <summary>A finding of the judge under test.</summary>
/// <param name="Code">Its code.</param>
/// <param name="Severity">How grave.</param>
/// <param name="Channel">0 left, 1 right, null both or none.</param>
/// <param name="Spans">Where, seconds; may be empty.</param>
/// <param name="Measured">Its figure; null when it has none.</param>
public sealed record ReportedFinding(
    string Code, ReportedSeverity Severity, int? Channel, IReadOnlyList<(double FromSeconds, double ToSeconds)> Spans, double? Measured);

/// <summary>What a judge says of one side.</summary>
/// <param name="Findings">Its findings.</param>
/// <param name="Measures">Figures by name, only those that have a value: see <see cref="MeasureNames"/>.</param>
public sealed record JudgedSide(IReadOnlyList<ReportedFinding> Findings, IReadOnlyDictionary<string, double> Measures);
