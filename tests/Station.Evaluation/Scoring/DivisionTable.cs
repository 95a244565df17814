using System.Globalization;
using System.Text;
using System.Text.Json;
using Station.Evaluation.Dividing;

namespace Station.Evaluation.Scoring;

/// <summary>The evaluation of the division as tables in Markdown and as JSON, and its goals.</summary>
/// <param name="sides">What was divided.</param>
/// <param name="unmade">Sides that could not be made: more than none fails the run.</param>
/// <param name="about">Facts of the run, printed above the tables.</param>
public sealed class DivisionTable(IReadOnlyList<DivisionRow> sides, int unmade, IReadOnlyDictionary<string, string> about)
{
    private static readonly JsonSerializerOptions JsonLayout = new() { WriteIndented = true, NumberHandling = System.Text.Json.Serialization.JsonNumberHandling.AllowNamedFloatingPointLiterals };

    /// <summary>
    /// The clean sides with a sheet, each once: even numbers told the count alone, odd ones the lengths as well.
    /// </summary>
    public DivisionTally CleanWithSheet => new([.. sides.Where(s => s.Class.Clean).Select(s => s.ByGuide[s.Index % 2 == 0 ? GuideKind.Count : GuideKind.Lengths])]);

    /// <summary>The same sides without a sheet.</summary>
    public DivisionTally CleanWithout => new([.. sides.Where(s => s.Class.Clean).Select(s => s.ByGuide[GuideKind.None])]);

    /// <summary>The goals for what was run.</summary>
    public IReadOnlyList<GoalCheck> Goals()
    {
        var goals = new List<GoalCheck>();
        if (CleanWithSheet.Sides > 0)
        {
            AddShares(goals, "clean, with a sheet", CleanWithSheet, 97, 93);
            AddShares(goals, "clean, without", CleanWithout, 92, 82);
            double[] losses = [.. CleanWithSheet.Losses.Concat(CleanWithout.Losses).Order()];
            int small = losses.Count(l => l <= 0.05);
            goals.Add(new GoalCheck("clean", "music lost at starts: at most 0.05 s at half of them", small, losses.Length, 2 * small >= losses.Length));
        }

        DivisionTally all = new([.. sides.SelectMany(s => s.ByGuide.Values)]);
        (int losing, int sure) = all.SureStarts;
        if (sure > 0)
        {
            goals.Add(new GoalCheck("all", "of starts said to be 0.9 sure at most 1 % lose more than 0.5 s", sure - losing, sure, 100 * losing <= sure));
        }

        DivisionScore[] told = [.. sides.SelectMany(s => s.ByGuide).Where(g => g.Key == GuideKind.Lengths).Select(g => g.Value)];
        if (told.Length > 0)
        {
            int uncut = told.Count(s => s.Cuts == 0);
            goals.Add(new GoalCheck("all", "no cut inside a track where lengths are given", uncut, told.Length, uncut == told.Length));
        }

        if (unmade > 0)
        {
            goals.Add(new GoalCheck("all", "every side made", sides.Count, sides.Count + unmade, false));
        }

        return goals;
    }

    /// <summary>The tables in Markdown.</summary>
    public string Markdown()
    {
        var text = new StringBuilder();
        foreach ((string key, string value) in about)
        {
            text.AppendLine(CultureInfo.InvariantCulture, $"- {key}: {value}");
        }

        text.AppendLine().AppendLine("| class | told | sides | tracks | starts found | starts right | ends found | ends right | sides right | lost at starts, middle | 95 % | sure starts losing 0.5 s | cuts |");
        text.AppendLine("|---|---|---|---|---|---|---|---|---|---|---|---|---|");
        foreach ((string name, GuideKind guide, DivisionTally tally) in Rows())
        {
            Line(text, name, Told(guide), tally);
        }

        if (CleanWithSheet.Sides > 0)
        {
            Line(text, "**clean sides, each once**", "count or lengths", CleanWithSheet);
            Line(text, "**clean sides, each once**", "nothing", CleanWithout);
        }

        text.AppendLine().AppendLine("| fixed threshold | class | sides | tracks | starts found | starts right | ends found | ends right | sides right |");
        text.AppendLine("|---|---|---|---|---|---|---|---|---|");
        foreach (double threshold in sides.SelectMany(s => s.Naive.Keys).Distinct().Order())
        {
            foreach (IGrouping<string, DivisionRow> group in sides.GroupBy(s => s.Class.Name, StringComparer.Ordinal).Append(new CleanGroup(sides)).Where(g => g.Any()))
            {
                DivisionTally tally = new([.. group.Select(s => s.Naive[threshold])]);
                text.AppendLine(CultureInfo.InvariantCulture, $"| {threshold:0} dBFS | {group.Key} | {tally.Sides} | {tally.TrueTracks} | {Shares(tally)} |");
            }
        }

        Reliability(text, "with a sheet", sides.SelectMany(s => s.ByGuide).Where(g => g.Key != GuideKind.None).SelectMany(g => g.Value.Edges));
        Reliability(text, "without", sides.SelectMany(s => s.ByGuide).Where(g => g.Key == GuideKind.None).SelectMany(g => g.Value.Edges));
        text.AppendLine().AppendLine("| goal | asked for | reached | 95 % bounds | met |");
        text.AppendLine("|---|---|---|---|---|");
        foreach (GoalCheck goal in Goals())
        {
            text.AppendLine(CultureInfo.InvariantCulture, $"| {goal.Class} | {goal.What} | {100.0 * goal.Hits / goal.Count:0.0} % of {goal.Count} | {Bounds(goal.Hits, goal.Count)} | {(goal.Met ? "yes" : "**no**")} |");
        }

        return text.ToString();
    }

    /// <summary>Everything as JSON; every side that is not entirely right with what was found on it only where <paramref name="withNames"/>.</summary>
    public string Json(bool withNames) => JsonSerializer.Serialize(
        new
        {
            about,
            rows = Rows().Select(r => new
            {
                r.Name,
                told = Told(r.Guide),
                sides = r.Tally.Sides,
                tracks = r.Tally.TrueTracks,
                found = r.Tally.FoundTracks,
                startsRight = r.Tally.StartsRight,
                endsRight = r.Tally.EndsRight,
                sidesRight = r.Tally.SidesRight,
                lostSecondsMiddle = DivisionTally.Quantile(r.Tally.Losses, 0.5),
                lostSeconds95 = DivisionTally.Quantile(r.Tally.Losses, 0.95),
                sureStarts = r.Tally.SureStarts.Count,
                sureStartsLosing = r.Tally.SureStarts.Losing,
                cuts = r.Tally.Cuts,
                wrong = withNames ? sides.Where(s => string.Equals(s.Class.Name, r.Name, StringComparison.Ordinal) && !s.ByGuide[r.Guide].SideRight).Select(s => Wrong(s, s.ByGuide[r.Guide])) : null,
            }),
            goals = Goals(),
        },
        JsonLayout);

    private static object Wrong(DivisionRow side, DivisionScore score) => new
    {
        side.Name,
        side.Truth.About,
        truth = side.Truth.Tracks.Select(t => string.Create(CultureInfo.InvariantCulture, $"{t.Start.Seconds:0.000}–{t.End.Seconds:0.000}")),
        printed = side.Truth.PrintedSeconds,
        found = score.Edges.Chunk(2).Select(p => string.Create(CultureInfo.InvariantCulture, $"{Place(p[0])}–{Place(p[1])}")),
        score.Confidence,
    };

    private static string Place(FoundEdge edge) => string.Create(CultureInfo.InvariantCulture,
        $"{edge.Seconds:0.000} ({(edge.Right ? "right" : edge.Cuts ? "CUT" : "wrong")}, {edge.Confidence:0.00}{(edge.LostSeconds > 0.5 ? $", loses {edge.LostSeconds:0.0} s" : "")})");

    private static void AddShares(List<GoalCheck> goals, string name, DivisionTally tally, int edgePercent, int sidePercent)
    {
        void Add(string what, int percent, int hits, int count) =>
            goals.Add(new GoalCheck(name, string.Create(CultureInfo.InvariantCulture, $"{what}: at least {percent} %"), hits, count, 100 * hits >= percent * count));
        Add("starts found", edgePercent, tally.StartsRight, tally.TrueTracks);
        Add("found starts right", edgePercent, tally.StartsRight, tally.FoundTracks);
        Add("ends found", edgePercent, tally.EndsRight, tally.TrueTracks);
        Add("found ends right", edgePercent, tally.EndsRight, tally.FoundTracks);
        Add("sides entirely right", sidePercent, tally.SidesRight, tally.Sides);
    }

    private static void Line(StringBuilder text, string name, string told, DivisionTally tally)
    {
        (int losing, int sure) = tally.SureStarts;
        text.AppendLine(CultureInfo.InvariantCulture,
            $"| {name} | {told} | {tally.Sides} | {tally.TrueTracks} | {Shares(tally)} | {DivisionTally.Quantile(tally.Losses, 0.5):0.000} s | {DivisionTally.Quantile(tally.Losses, 0.95):0.00} s | {losing} of {sure} | {tally.Cuts} |");
    }

    private static string Shares(DivisionTally tally) => string.Join(" | ",
        Share(tally.StartsRight, tally.TrueTracks), Share(tally.StartsRight, tally.FoundTracks), Share(tally.EndsRight, tally.TrueTracks), Share(tally.EndsRight, tally.FoundTracks),
        Share(tally.SidesRight, tally.Sides));

    private static string Share(int part, int whole) => whole == 0 ? "–" : string.Create(CultureInfo.InvariantCulture, $"{100.0 * part / whole:0.0} % ({Bounds(part, whole)})");

    private static string Bounds(int part, int whole)
    {
        (double low, double high) = WilsonBounds.Of(part, whole);
        return string.Create(CultureInfo.InvariantCulture, $"{100 * low:0}–{100 * high:0}");
    }

    private static void Reliability(StringBuilder text, string which, IEnumerable<FoundEdge> edges)
    {
        IReadOnlyList<ReliabilityBin> bins = ReliabilityBin.Of(edges);
        if (bins.All(b => b.Edges.Count == 0))
        {
            return;
        }

        text.AppendLine().AppendLine(CultureInfo.InvariantCulture, $"| confidence, {which} | starts and ends | said | within 0.5 s | within tolerance |");
        text.AppendLine("|---|---|---|---|---|");
        foreach (ReliabilityBin bin in bins)
        {
            string said = bin.Edges.Count == 0 ? "–" : string.Create(CultureInfo.InvariantCulture, $"{bin.Said:0.00}");
            text.AppendLine(CultureInfo.InvariantCulture, $"| {bin.From:0.0}–{bin.To:0.0} | {bin.Edges.Count} | {said} | {Share(bin.WithinHalfSecond, bin.Edges.Count)} | {Share(bin.Right, bin.Edges.Count)} |");
        }
    }

    private static string Told(GuideKind guide) => guide switch { GuideKind.None => "nothing", GuideKind.Count => "count", _ => "count, lengths" };

    private IEnumerable<(string Name, GuideKind Guide, DivisionTally Tally)> Rows() => sides.GroupBy(s => s.Class).SelectMany(g => g.Key.Guides
        .Select(guide => (g.Key.Name, guide, new DivisionTally([.. g.Select(s => s.ByGuide[guide])]))));

    /// <summary>The clean sides under one heading.</summary>
    private sealed class CleanGroup(IReadOnlyList<DivisionRow> sides) : IGrouping<string, DivisionRow>
    {
        public string Key => "**clean sides**";

        public IEnumerator<DivisionRow> GetEnumerator() => sides.Where(s => s.Class.Clean).GetEnumerator();

        System.Collections.IEnumerator System.Collections.IEnumerable.GetEnumerator() => GetEnumerator();
    }
}
