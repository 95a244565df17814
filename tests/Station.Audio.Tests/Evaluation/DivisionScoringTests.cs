using Station.Audio.Reading;
using Station.Evaluation.Dividing;
using Station.Evaluation.Judging;
using Station.Evaluation.Scoring;
using Xunit;

namespace Station.Audio.Tests.Evaluation;

/// <summary>The evaluation of the division counts right: edges matched one to one, sides, music lost, cuts, confidence. All by hand.</summary>
public sealed class DivisionScoringTests
{
    private static readonly DividedTruth TwoTracks = Truth((10, 100), (104, 200));

    [Fact]
    public void A_side_is_right_when_every_edge_is()
    {
        Assert.True(Score(TwoTracks, (9.6, 100.9), (104.4, 199.1)).SideRight);
        Assert.False(Score(TwoTracks, (9.4, 100), (104, 200)).SideRight);
        Assert.False(Score(TwoTracks, (10, 101.1), (104, 200)).SideRight);
        Assert.False(Score(TwoTracks, (10, 100)).SideRight);
        Assert.False(Score(TwoTracks, (10, 100), (104, 200), (230, 240)).SideRight);
    }

    [Fact]
    public void Two_found_for_one_true_edge_are_one_right_and_one_wrong()
    {
        DivisionScore score = Score(TwoTracks, (9.8, 10.0), (10.1, 100), (104, 200));

        Assert.Equal(2, score.StartsRight);
        Assert.Equal([false, true, true], score.Edges.Where(e => e.IsStart).Select(e => e.Right));
    }

    [Fact]
    public void The_closest_pair_is_matched_first()
    {
        Assert.Equal([-1, 0], EdgeMatching.Match([(10, 0.5, 0.5)], [9.6, 10.1]));
        Assert.Equal([0, 1], EdgeMatching.Match([(10, 3, 3), (12, 3, 3)], [9, 11.5]));
        Assert.Equal([-1], EdgeMatching.Match([(10, 3, 1)], [11.2]));
        Assert.Equal([0], EdgeMatching.Match([(10, 3, 1)], [7.2]));
    }

    [Fact]
    public void Music_before_a_start_is_lost_unless_the_track_before_holds_it()
    {
        Assert.Equal(0, Lost(Score(TwoTracks, (9, 100))));
        Assert.Equal(0.3, Lost(Score(TwoTracks, (10.3, 100))), 1e-9);
        Assert.Equal(20, Lost(Score(TwoTracks, (30, 100))), 1e-9);

        // The second of two tracks where there is one: only what lies between them is lost.
        Assert.Equal(0.2, Score(Truth((10, 100)), (10, 50), (50.2, 100)).Edges.Sum(e => e.LostSeconds), 1e-9);

        static double Lost(DivisionScore score) => score.Edges.Sum(e => e.LostSeconds);
    }

    [Fact]
    public void An_edge_further_than_a_second_and_a_half_inside_music_cuts_it()
    {
        Assert.Equal(0, Score(TwoTracks, (11.4, 98.6), (104, 200)).Cuts);
        Assert.Equal(1, Score(TwoTracks, (11.6, 100), (104, 200)).Cuts);
        Assert.Equal(2, Score(TwoTracks, (10, 60), (62, 200)).Cuts);
    }

    [Fact]
    public void Near_an_edge_that_lengths_place_nothing_is_a_cut()
    {
        var segue = new DividedTruth(
            [new TrueTrack(TrueEdge.Start(10), TrueEdge.Segue(100), 10, 100), new TrueTrack(TrueEdge.Segue(100), TrueEdge.End(200), 100, 200)], [90, 100], 45, "");

        DivisionScore near = Score(segue, (10, 108), (108, 200));
        Assert.Equal(0, near.Cuts);
        Assert.False(near.SideRight);
        Assert.Equal(0, near.Edges.Sum(e => e.LostSeconds));
        Assert.True(Score(segue, (10, 97.5), (97.5, 200)).SideRight);
        Assert.Equal(2, Score(segue, (10, 111), (111, 200)).Cuts);
    }

    [Fact]
    public void Confidence_is_held_against_what_was_right()
    {
        FoundEdge[] edges = [.. Enumerable.Range(0, 10).Select(i => new FoundEdge(true, i, 0.95, i < 9, i < 8, 0, false)),
            new FoundEdge(true, 0, 1, true, true, 0, false), new FoundEdge(false, 0, double.NaN, true, true, 0, false)];

        IReadOnlyList<ReliabilityBin> bins = ReliabilityBin.Of(edges);

        Assert.Equal(10, bins.Count);
        Assert.Equal(11, bins[9].Edges.Count);
        Assert.Equal(9, bins[9].WithinHalfSecond);
        Assert.Equal(10, bins[9].Right);
        Assert.Equal(10.5 / 11, bins[9].Said, 1e-9);
        Assert.All(bins.Take(9), b => Assert.Empty(b.Edges));
    }

    [Fact]
    public void Goals_fail_on_what_they_ask_for()
    {
        FoundDivision right = Found((10, 100), (104, 200));
        FoundDivision cut = Found((10, 60), (62, 200));

        Assert.All(Table(right, right, right).Goals(), g => Assert.True(g.Met, g.What));
        Assert.Contains(Table(right, right, cut).Goals(), g => !g.Met && g.What.Contains("no cut", StringComparison.Ordinal));
        Assert.DoesNotContain(Table(right, cut, right).Goals(), g => !g.Met && g.What.Contains("no cut", StringComparison.Ordinal));

        // Side 0 counts with the count alone, side 1 with the lengths: the count's failure shows in one of two.
        Assert.Contains(Table(right, cut, right).Goals(), g => !g.Met && g.Hits == 1 && g.Count == 2 && g.What.StartsWith("sides entirely right", StringComparison.Ordinal));

        // Sure of it, and 0.6 s of music lost at one of four starts.
        FoundDivision late = Found((10.6, 100), (104, 200));
        Assert.Contains(Table(late, right, right).Goals(), g => !g.Met && g.What.Contains("0.9 sure", StringComparison.Ordinal));
        Assert.Contains(Table(right, right, right, unmade: 1).Goals(), g => !g.Met && g.What.StartsWith("every side", StringComparison.Ordinal));
    }

    [Fact]
    public void The_JSON_names_sides_of_the_tuning_set_alone()
    {
        FoundDivision cut = Found((10, 60), (62, 200));
        DivisionTable table = Table(cut, cut, cut);

        Assert.Contains("clean/1/7", table.Json(withNames: true), StringComparison.Ordinal);
        Assert.DoesNotContain("clean/1/7", table.Json(withNames: false), StringComparison.Ordinal);
        Assert.DoesNotContain("clean/1/7", table.Markdown(), StringComparison.Ordinal);
    }

    [Fact]
    public void Quantiles_are_values_that_occurred()
    {
        double[] values = [.. Enumerable.Range(1, 20).Select(i => (double)i)];

        Assert.Equal(10, DivisionTally.Quantile(values, 0.5));
        Assert.Equal(19, DivisionTally.Quantile(values, 0.95));
        Assert.Equal(double.NaN, DivisionTally.Quantile([], 0.5));
    }

    // A square wave of amplitude a has the level 20·log10(a·√2) where a full-scale sine is 0.
    [Fact]
    public void The_fixed_threshold_splits_at_a_second_and_a_half_below_it()
    {
        var format = new CaptureFormat { Container = "wav", Words = WordFormat.Int16, SampleRateHz = 8000, BitsPerSample = 16, Channels = 2, Frames = 8000 * 60 };
        float over = (float)(Math.Pow(10, -49.0 / 20) / Math.Sqrt(2));
        float under = (float)(Math.Pow(10, -51.0 / 20) / Math.Sqrt(2));
        float[] sound = new float[8000 * 60 * 2];
        for (int i = 0; i < sound.Length; i++)
        {
            double t = i / 16000.0;
            sound[i] = t is (>= 5 and < 20) or (>= 21.4 and < 30) or (>= 31.6 and < 40) or (>= 45 and < 47) ? over : under;
        }

        var splitter = new FixedThresholdSplitter(format, -50);
        foreach (float[] piece in sound.Chunk(1234))
        {
            splitter.Add(piece);
        }

        Assert.Equal([(5.0, 30.0), (31.6, 40.0)], splitter.Finish().Tracks.Select(t => (Math.Round(t.StartSeconds, 2), Math.Round(t.EndSeconds, 2))));
    }

    private static DividedTruth Truth(params (double From, double To)[] tracks) => new(
        [.. tracks.Select(t => new TrueTrack(TrueEdge.Start(t.From), TrueEdge.End(t.To), t.From, t.To))], [.. tracks.Select(t => (double?)(t.To - t.From))], 100.0 / 3, "");

    private static FoundDivision Found(params (double From, double To)[] tracks) => new([.. tracks.Select(t => new FoundTrack(t.From, t.To, 0.95, 0.95))], 0.95);

    private static DivisionScore Score(DividedTruth truth, params (double From, double To)[] tracks) => DivisionScore.Of("side", truth, Found(tracks));

    private static DivisionTable Table(FoundDivision none, FoundDivision count, FoundDivision lengths, int unmade = 0)
    {
        DivisionClass clean = DivisionClasses.All.Single(c => string.Equals(c.Name, "clean", StringComparison.Ordinal));
        return new DivisionTable([.. Enumerable.Range(0, 2).Select(Row)], unmade, new Dictionary<string, string>(StringComparer.Ordinal));

        DivisionRow Row(int index)
        {
            string name = $"clean/{index}/7";
            return new DivisionRow(name, clean, index, TwoTracks, new Dictionary<GuideKind, DivisionScore>
            {
                [GuideKind.None] = DivisionScore.Of(name, TwoTracks, none),
                [GuideKind.Count] = DivisionScore.Of(name, TwoTracks, count),
                [GuideKind.Lengths] = DivisionScore.Of(name, TwoTracks, lengths),
            }, new Dictionary<double, DivisionScore> { [-50] = DivisionScore.Of(name, TwoTracks, none) });
        }
    }
}
