using Station.Evaluation.Faults;
using Station.Evaluation.Judging;

namespace Station.Evaluation.Scoring;

/// <summary>Compares what the judge said of a side with what was planted in it.</summary>
public static class Scorer
{
    /// <summary>Scores one side.</summary>
    public static SideScore Score(string name, SideTruth truth, JudgedSide judged)
    {
        ArgumentNullException.ThrowIfNull(truth);
        ArgumentNullException.ThrowIfNull(judged);
        ReportedFinding[] right = [.. judged.Findings.Where(f => truth.Codes.Contains(f.Code) && (truth.Channel is null || f.Channel is null || f.Channel == truth.Channel))];
        (double? error, bool? placed) = Place(truth, right);
        bool detected = right.Length > 0 && (!truth.PlaceDecides || placed == true) && (truth.AtMost is null || right.All(f => f.Severity <= truth.AtMost));
        var errors = new Dictionary<string, double>(StringComparer.Ordinal);
        int figuresRight = 0;
        if (detected)
        {
            foreach (TrueFigure figure in truth.Figures)
            {
                double? value = judged.Measures.TryGetValue(figure.Name, out double measured) ? measured : figure.FromFinding ? right[0].Measured : null;
                errors[figure.Name] = value - figure.Value ?? double.NaN;
                figuresRight += Math.Abs(errors[figure.Name]) <= figure.Tolerance ? 1 : 0;
            }
        }

        ReportedFinding[] others = [.. judged.Findings.Where(f => !truth.Codes.Contains(f.Code) && !truth.Companions.Contains(f.Code))];

        // The right code with a gravity it must not have is a false alarm as well as a miss.
        IEnumerable<ReportedFinding> tooGrave = right.Where(f => truth.AtMost is not null && f.Severity > truth.AtMost);
        return new SideScore
        {
            Name = name,
            Detected = detected,
            Severity = right.Length > 0 ? (int)right.Max(f => f.Severity) : null,
            FalseAlarms = [.. others.Where(f => f.Severity >= ReportedSeverity.Review).Concat(tooGrave)
                .Select(f => f.Severity == ReportedSeverity.Retake ? f.Code + "*" : f.Code).Distinct(StringComparer.Ordinal)],
            Notes = [.. others.Where(f => f.Severity == ReportedSeverity.Note).Select(f => f.Code).Distinct(StringComparer.Ordinal)],
            PositionError = error,
            PositionRight = placed,
            FigureErrors = errors,
            FiguresRight = figuresRight,
        };
    }

    private static (double? Error, bool? Right) Place(SideTruth truth, ReportedFinding[] right)
    {
        if (truth.Rule == PositionRule.WholeSide || right.Length == 0)
        {
            return (null, null);
        }

        (double From, double To)[] spans = [.. right.SelectMany(f => f.Spans).Select(s => (s.FromSeconds, s.ToSeconds))];
        if (spans.Length == 0 || truth.Spans.Count == 0)
        {
            return (null, false);
        }

        double error = truth.Rule switch
        {
            PositionRule.FirstOnset => spans.Min(s => s.From) - truth.Spans.Min(s => s.FromSeconds),
            PositionRule.NearestOnset => Nearest(spans.Min(s => s.From), truth.Spans),
            _ => spans.Min(s => truth.Spans.Min(t => Distance(s, t))),
        };
        return (error, Math.Abs(error) <= truth.PositionTolerance);
    }

    private static double Nearest(double onset, List<(double FromSeconds, double ToSeconds)> spans) => onset - spans.MinBy(t => Math.Abs(onset - t.FromSeconds)).FromSeconds;

    /// <summary>0 when the spans meet, else the gap between them.</summary>
    private static double Distance((double From, double To) a, (double FromSeconds, double ToSeconds) b) =>
        Math.Max(0, Math.Max(b.FromSeconds - a.To, a.From - b.ToSeconds));
}
