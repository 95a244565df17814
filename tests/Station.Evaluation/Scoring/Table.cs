using System.Globalization;
using System.Text;
using System.Text.Json;
using Station.Evaluation.Faults;

namespace Station.Evaluation.Scoring;

/// <summary>The evaluation as a table in Markdown and as JSON, and its goals.</summary>
/// <param name="rows">What was scored.</param>
/// <param name="unmade">Sides that could not be made: more than none fails the run.</param>
/// <param name="about">Facts of the run, printed above the table.</param>
public sealed class Table(IReadOnlyList<RowSummary> rows, int unmade, IReadOnlyDictionary<string, string> about)
{
    /// <summary>Share of clean sides that may have a finding of review.</summary>
    public const double MostCleanReviews = 0.01;

    private static readonly JsonSerializerOptions JsonLayout = new() { WriteIndented = true, NumberHandling = System.Text.Json.Serialization.JsonNumberHandling.AllowNamedFloatingPointLiterals };

    /// <summary>The goals for the classes that were run.</summary>
    public IReadOnlyList<GoalCheck> Goals()
    {
        var goals = new List<GoalCheck>();
        foreach (FaultClass fault in FaultCatalogue.All)
        {
            RowSummary[] must = [.. rows.Where(r => r.Must && string.Equals(r.Class, fault.Code, StringComparison.Ordinal))];
            int count = must.Sum(r => r.Count);
            if (count == 0)
            {
                continue;
            }

            int hits = must.Sum(r => r.Detected);
            goals.Add(new GoalCheck(fault.Code, $"detected on at least {fault.GoalPercent} %", hits, count, 100 * hits >= fault.GoalPercent * count));
            int placed = must.Sum(r => r.Placed);
            if (placed > 0)
            {
                int right = must.Sum(r => r.PlacedRight);
                goals.Add(new GoalCheck(fault.Code, $"place right on at least {fault.GoalPercent} % of those found", right, placed, 100 * right >= fault.GoalPercent * placed));
            }

            int figures = must.Sum(r => r.Figures);
            if (figures > 0)
            {
                int right = must.Sum(r => r.FiguresRight);
                goals.Add(new GoalCheck(fault.Code, $"figures right on at least {fault.GoalPercent} % of those found", right, figures, 100 * right >= fault.GoalPercent * figures));
            }
        }

        RowSummary[] clean = [.. rows.Where(r => string.Equals(r.Class, "clean", StringComparison.Ordinal))];
        int sides = clean.Sum(r => r.Count);
        if (sides > 0)
        {
            int retakes = clean.Sum(r => r.WithFalseRetake);
            int alarms = clean.Sum(r => r.WithFalseAlarm);
            goals.Add(new GoalCheck("clean", "no retake", sides - retakes, sides, retakes == 0));
            goals.Add(new GoalCheck("clean", "a finding of review on at most 1 %", sides - alarms, sides, alarms <= MostCleanReviews * sides));
        }

        if (unmade > 0)
        {
            goals.Add(new GoalCheck("all", "every side made", rows.Sum(r => r.Count), rows.Sum(r => r.Count) + unmade, false));
        }

        return goals;
    }

    /// <summary>The table in Markdown.</summary>
    public string Markdown()
    {
        var text = new StringBuilder();
        foreach ((string key, string value) in about)
        {
            text.AppendLine(CultureInfo.InvariantCulture, $"- {key}: {value}");
        }

        text.AppendLine().AppendLine("| class | strength | must | sides | detected | 95 % bounds | missed | retake | place right | middle error | figures right | middle figure error | false alarms |");
        text.AppendLine("|---|---|---|---|---|---|---|---|---|---|---|---|---|");
        foreach (RowSummary row in rows.Where(r => !string.Equals(r.Class, "clean", StringComparison.Ordinal)))
        {
            (double low, double high) = WilsonBounds.Of(row.Detected, row.Count);
            string alarms = string.Join(", ", Codes(row.Scores.SelectMany(s => s.FalseAlarms)));
            string figures = string.Join(", ", row.MiddleFigureErrors.Select(f => string.Create(CultureInfo.InvariantCulture, $"{f.Key} {f.Value:0.####}")));
            text.AppendLine(CultureInfo.InvariantCulture,
                $"| {row.Class} | {row.Row} | {(row.Must ? "yes" : "")} | {row.Count} | {Percent(row.Detected, row.Count)} | {100 * low:0}–{100 * high:0} % | {row.Count - row.Detected} | {row.Scores.Count(s => s.Severity == 2)} | {(row.Placed > 0 ? Percent(row.PlacedRight, row.Placed) : "")} | {Time(row.MiddlePositionError)} | {(row.Figures > 0 ? Percent(row.FiguresRight, row.Figures) : "")} | {figures} | {alarms} |");
        }

        text.AppendLine().AppendLine("| clean sides | sides | with a retake | with a review | 95 % bounds of reviews | codes | notes |");
        text.AppendLine("|---|---|---|---|---|---|---|");
        foreach (RowSummary row in rows.Where(r => string.Equals(r.Class, "clean", StringComparison.Ordinal)))
        {
            CleanLine(text, row.Row, row.Scores);
        }

        CleanLine(text, "**all**", [.. rows.Where(r => string.Equals(r.Class, "clean", StringComparison.Ordinal)).SelectMany(r => r.Scores)]);
        text.AppendLine().AppendLine("| goal | asked for | reached | 95 % bounds | met |");
        text.AppendLine("|---|---|---|---|---|");
        foreach (GoalCheck goal in Goals())
        {
            (double low, double high) = WilsonBounds.Of(goal.Hits, goal.Count);
            text.AppendLine(CultureInfo.InvariantCulture,
                $"| {goal.Class} | {goal.What} | {Percent(goal.Hits, goal.Count)} of {goal.Count} | {100 * low:0.0}–{100 * high:0.0} % | {(goal.Met ? "yes" : "**no**")} |");
        }

        return text.ToString();
    }

    /// <summary>Everything as JSON; the names of missed sides only where <paramref name="withNames"/>.</summary>
    public string Json(bool withNames) => JsonSerializer.Serialize(
        new
        {
            about,
            rows = rows.Select(r => new
            {
                r.Class,
                r.Row,
                r.Must,
                sides = r.Count,
                detected = r.Detected,
                bounds = new[] { WilsonBounds.Of(r.Detected, r.Count).Low, WilsonBounds.Of(r.Detected, r.Count).High },
                falseAlarms = r.WithFalseAlarm,
                falseRetakes = r.WithFalseRetake,
                codes = Codes(r.Scores.SelectMany(s => s.FalseAlarms)),
                notes = Codes(r.Scores.SelectMany(s => s.Notes)),
                placed = r.Placed,
                placedRight = r.PlacedRight,
                middlePositionErrorSeconds = r.MiddlePositionError,
                figures = r.Figures,
                figuresRight = r.FiguresRight,
                middleFigureErrors = r.MiddleFigureErrors,
                missed = withNames ? r.Scores.Where(s => !s.Detected && !string.Equals(r.Class, "clean", StringComparison.Ordinal)).Select(s => s.Name) : null,
                alarmed = withNames ? r.Scores.Where(s => s.FalseAlarms.Count > 0).Select(s => $"{s.Name}: {string.Join(' ', s.FalseAlarms)}") : null,
            }),
            goals = Goals(),
        },
        JsonLayout);

    private static void CleanLine(StringBuilder text, string name, IReadOnlyList<SideScore> scores)
    {
        if (scores.Count == 0)
        {
            return;
        }

        int alarms = scores.Count(s => s.FalseAlarms.Count > 0);
        (double low, double high) = WilsonBounds.Of(alarms, scores.Count);
        text.AppendLine(CultureInfo.InvariantCulture,
            $"| {name} | {scores.Count} | {scores.Count(s => s.FalseAlarms.Any(f => f.EndsWith('*')))} | {alarms} | {100 * low:0.0}–{100 * high:0.0} % | {string.Join(", ", Codes(scores.SelectMany(s => s.FalseAlarms)))} | {string.Join(", ", Codes(scores.SelectMany(s => s.Notes)))} |");
    }

    private static IEnumerable<string> Codes(IEnumerable<string> codes) => codes.GroupBy(c => c, StringComparer.Ordinal).OrderByDescending(g => g.Count()).ThenBy(g => g.Key, StringComparer.Ordinal)
        .Select(g => $"{g.Key} {g.Count()}");

    private static string Percent(int part, int whole) => string.Create(CultureInfo.InvariantCulture, $"{100.0 * part / Math.Max(whole, 1):0.#} %");

    private static string Time(double? seconds) => seconds switch
    {
        null => "",
        < 0.1 => string.Create(CultureInfo.InvariantCulture, $"{1000 * seconds:0.##} ms"),
        _ => string.Create(CultureInfo.InvariantCulture, $"{seconds:0.##} s"),
    };
}
