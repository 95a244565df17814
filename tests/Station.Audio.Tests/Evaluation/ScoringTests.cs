using Station.Audio.Findings;
using Station.Evaluation;
using Station.Evaluation.Faults;
using Station.Evaluation.Judging;
using Station.Evaluation.Scoring;
using Xunit;

namespace Station.Audio.Tests.Evaluation;

/// <summary>The evaluation counts right: hits, misses, false alarms, places, bounds.</summary>
public sealed class ScoringTests
{
    // Wilson's interval for 8 of 10 and 0 of 10 at 95 % (computed from the formula with z = 1.959964).
    [Theory]
    [InlineData(8, 10, 0.4902, 0.9433)]
    [InlineData(0, 10, 0.0, 0.2775)]
    [InlineData(60, 60, 0.9398, 1.0)]
    public void Bounds_are_Wilsons(int successes, int trials, double low, double high)
    {
        (double Low, double High) bounds = WilsonBounds.Of(successes, trials);

        Assert.Equal(low, bounds.Low, 0.0002);
        Assert.Equal(high, bounds.High, 0.0002);
    }

    [Fact]
    public void A_finding_in_the_wrong_place_or_channel_is_a_miss()
    {
        SideTruth truth = Dropout();

        Assert.True(Score(truth, Found("contact-dropout", 1, (10.02, 10.03))).Detected);
        Assert.False(Score(truth, Found("contact-dropout", 1, (11, 11.02))).Detected);
        Assert.False(Score(truth, Found("contact-dropout", 0, (10, 10.02))).Detected);
        Assert.False(Score(truth).Detected);
    }

    [Fact]
    public void Other_reviews_are_false_alarms_and_companions_are_not()
    {
        SideTruth truth = Dropout();
        truth.Companions.Add("crackle");

        SideScore score = Score(truth, Found("contact-dropout", 1, (10, 10.02)), Found("crackle", null), Found("mains-hum", null), new ReportedFinding("rumble", ReportedSeverity.Note, null, [], null));

        Assert.Equal(["mains-hum"], score.FalseAlarms);
        Assert.Equal(["rumble"], score.Notes);
    }

    [Fact]
    public void A_retake_for_a_few_ticks_is_no_detection_but_a_false_retake()
    {
        var truth = new SideTruth { AtMost = ReportedSeverity.Review };
        truth.Codes.Add("clipped-converter");

        SideScore score = Score(truth, new ReportedFinding("clipped-converter", ReportedSeverity.Retake, null, [], null));

        Assert.False(score.Detected);
        Assert.Equal(["clipped-converter*"], score.FalseAlarms);
    }

    [Fact]
    public void A_figure_is_compared_with_the_measure_or_else_the_finding()
    {
        var truth = new SideTruth();
        truth.Codes.Add("mains-hum");
        truth.Figures.Add(new TrueFigure(MeasureNames.HumHz, 50.1, 0.02, false));
        truth.Figures.Add(new TrueFigure(MeasureNames.HumDbfs, -60, 1, true));
        var judged = new JudgedSide([new ReportedFinding("mains-hum", ReportedSeverity.Review, null, [], -61.5)], new Dictionary<string, double> { [MeasureNames.HumHz] = 50.11 });

        SideScore score = Scorer.Score("x", truth, judged);

        Assert.Equal(0.01, score.FigureErrors[MeasureNames.HumHz], 1e-9);
        Assert.Equal(-1.5, score.FigureErrors[MeasureNames.HumDbfs], 1e-9);
        Assert.Equal(1, score.FiguresRight);
    }

    [Fact]
    public void A_figure_that_is_not_given_is_not_right()
    {
        var truth = new SideTruth();
        truth.Codes.Add("mains-hum");
        truth.Figures.Add(new TrueFigure(MeasureNames.HumHz, 50.1, 0.02, false));

        SideScore score = Score(truth, Found("mains-hum", null));

        Assert.True(double.IsNaN(score.FigureErrors[MeasureNames.HumHz]));
        Assert.Equal(0, score.FiguresRight);
    }

    [Fact]
    public void Every_code_that_can_be_heard_has_a_class_with_a_committed_strength()
    {
        // These four come from the sheet, the division and the container, not from the sound.
        string[] elsewhere = [FindingCodes.TracksUnexpected, FindingCodes.DivisionUnsure, FindingCodes.FileDamaged, FindingCodes.FileTruncated];

        Assert.Equal(FindingCodes.DefaultSeverity.Keys.Except(elsewhere, StringComparer.Ordinal).Order(StringComparer.Ordinal), FaultCatalogue.All.Select(c => c.Code).Order(StringComparer.Ordinal));
        Assert.All(FaultCatalogue.All, c => Assert.Contains(c.Rows, r => r.Must));
    }

    [Fact]
    public void A_full_run_has_sixty_sides_a_class_and_four_hundred_clean_ones()
    {
        IReadOnlyList<SideOrder> orders = SideOrder.All(new EvaluationOptions(), [1, 2, 3]);

        Assert.All(FaultCatalogue.All, c => Assert.Equal(60, orders.Count(o => string.Equals(o.Class, c.Code, StringComparison.Ordinal) && o.Row.Must)));
        Assert.Equal(400, orders.Count(o => string.Equals(o.Class, "clean", StringComparison.Ordinal)));
        Assert.Equal(orders.Count, orders.Select(o => o.Name).Distinct(StringComparer.Ordinal).Count());
    }

    [Fact]
    public void A_failed_goal_shows()
    {
        var row = new RowSummary("mains-hum", "fundamental −60 dBFS", true, [Score(new SideTruth())]);
        var table = new Table([row], 0, new Dictionary<string, string>(StringComparer.Ordinal));

        Assert.Contains(table.Goals(), g => !g.Met);
        Assert.Contains("**no**", table.Markdown(), StringComparison.Ordinal);
    }

    private static SideTruth Dropout()
    {
        var truth = new SideTruth { Channel = 1, Rule = PositionRule.Overlap, PositionTolerance = 0.02, PlaceDecides = true };
        truth.Codes.Add("contact-dropout");
        truth.Spans.Add((10, 10.02));
        return truth;
    }

    private static ReportedFinding Found(string code, int? channel, params (double, double)[] spans) => new(code, ReportedSeverity.Review, channel, spans, null);

    private static SideScore Score(SideTruth truth, params ReportedFinding[] findings) => Scorer.Score("x", truth, new JudgedSide(findings, new Dictionary<string, double>(StringComparer.Ordinal)));
}
