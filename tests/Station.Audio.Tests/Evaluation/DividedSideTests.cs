using Station.Audio.Meters;
using Station.Evaluation.Disc;
using Station.Evaluation.Dividing;
using Station.Evaluation.Judging;
using Station.Evaluation.Music;
using Station.Evaluation.Signal;
using Xunit;

namespace Station.Audio.Tests.Evaluation;

/// <summary>Sides to be divided are what they say they are: facts from arithmetic, on made-up music.</summary>
public sealed class DividedSideTests
{
    private static readonly StandInMusic Music = new();
    private static readonly DividedSideMaker Maker = new(Music, [NoiseModel.A, NoiseModel.C], "test");

    [Fact]
    public void A_track_begins_and_ends_where_the_sound_does()
    {
        var random = new SeededRandom(3, "edges");
        DividedSide side = Maker.Make(Plan(random, -66, 2, gapSeconds: 3), random);

        Assert.Equal(2, side.Truth.Tracks.Count);
        double[] cells = BandCells.Of(side.Capture);
        foreach (TrueTrack track in side.Truth.Tracks)
        {
            // The made-up music is some 40 dB above the noise from its first pluck on.
            int start = (int)(track.Start.Seconds * BandCells.PerSecond);
            Assert.True(Db(cells, start + 4, start + 40) > Db(cells, start - 60, start - 2) + 20);
            int end = (int)(track.End.Seconds * BandCells.PerSecond);
            Assert.True(Db(cells, end - 60, end) > Db(cells, end + 4, end + 100) + 1);
        }

        // The last notes die away within a second of where the excerpt stops, never after it.
        Assert.InRange(side.Truth.Tracks[1].Start.Seconds - side.Truth.Tracks[0].End.Seconds, 3 - 0.05, 3 + 1.5);
        Assert.All(side.Truth.Tracks, t => Assert.Equal((t.Start.Seconds, t.End.Seconds), (t.MusicStartSeconds, t.MusicEndSeconds)));
    }

    [Fact]
    public void A_louder_groove_swallows_more_of_a_fade()
    {
        double End(double dba)
        {
            var random = new SeededRandom(4, "fade");
            return Maker.Make(Plan(random, dba, 1, 0, piece => piece with { FadeOutSeconds = 9, FadeOutPower = 2 }), random).Truth.Tracks[0].End.Seconds;
        }

        // A fade of the power 2 falls by 40·log10 of the time left: 30 dB more noise make 5.6 times the time of it, and music of about 32 dB over the louder noise
        // is 6 dB under it 9 s · 10^(−38/40) = 1 s before the end, 0.2 s with the quieter one; notes come every 0.3 s.
        Assert.InRange(End(-70) - End(-40), 0.5, 2);
    }

    [Fact]
    public void Tracks_that_meet_share_the_middle_of_their_cross_fade()
    {
        var random = new SeededRandom(5, "segue");
        DividedSide side = Maker.Make(Plan(random, -66, 2, gapSeconds: -1), random);

        Assert.Equal(side.Truth.Tracks[0].End, side.Truth.Tracks[1].Start);
        Assert.True(side.Truth.Tracks[0].End.Placed);
        Assert.Equal(TrueEdge.SegueTolerance, side.Truth.Tracks[0].End.Early);

        // Two tracks of 12 s, one second laid over the other: the middle lies 11.5 s after the first start.
        Assert.Equal(11.5 / (1 + (SpeedErrorPercent / 100)), side.Truth.Tracks[0].End.Seconds - side.Truth.Tracks[0].Start.Seconds, 0.3);
    }

    [Theory]
    [InlineData(-3)]
    [InlineData(2)]
    public void A_disc_played_fast_is_shorter_than_printed(double percent)
    {
        var random = new SeededRandom(6, "speed");
        DividedPlan plan = Plan(random, -66, 1, 0);
        plan.Recipe.SpeedErrorPercent = percent;
        TrueTrack track = Maker.Make(plan, random).Truth.Tracks[0];

        Assert.Equal(12 / (1 + (percent / 100)), track.End.Seconds - track.Start.Seconds, 0.3);
    }

    [Fact]
    public void A_crowd_leaves_room_for_either_opinion()
    {
        var random = new SeededRandom(8, "live");
        DividedTruth truth = Maker.Make(Plan(random, -66, 2, gapSeconds: 6) with { Crowd = true }, random).Truth;

        double next = truth.Tracks[1].Start.Seconds;
        Assert.Equal(next + 1, truth.Tracks[0].End.Seconds + truth.Tracks[0].End.Late, 1e-6);
        Assert.Equal((3.0, 1.0), (truth.Tracks[1].Start.Early, truth.Tracks[1].Start.Late));
        Assert.True(truth.Tracks[0].Start.Early > TrueEdge.StartTolerance);
    }

    [Fact]
    public void The_same_name_and_seed_give_the_same_side()
    {
        var kind = new DivisionClass("test", "two short tracks", [GuideKind.None]) { Plan = p => new DividedPlan(p.Recipe) { Pieces = p.Pieces(2, 24, 2, 3), LongestLullSeconds = 5 } };
        DividedSide first = Maker.Make(kind, "test/0", 7);
        DividedSide second = Maker.Make(kind, "test/0", 7);

        Assert.Equal(first.Capture.Left, second.Capture.Left);
        Assert.Equal(first.Truth.Tracks, second.Truth.Tracks);
        Assert.NotEqual(first.Capture.Left, Maker.Make(kind, "test/0", 8).Capture.Left);
    }

    [Fact]
    public void A_kept_envelope_is_the_same_envelope()
    {
        string folder = Directory.CreateTempSubdirectory("kept-").FullName;
        try
        {
            var random = new SeededRandom(9, "kept");
            DividedSide made = Maker.Make(Plan(random, -66, 1, 0), random);
            LevelEnvelope envelope = DividerUnderTest.Measure(Converter.Format(made.Capture, made.Words), Converter.Blocks(made.Capture, made.Words));
            var kept = new KeptEnvelopes(folder);
            kept.Keep("clean/0/9", new MeasuredSide(envelope, made.Truth, new Dictionary<double, FoundDivision> { [-50] = new([new FoundTrack(1, 2, double.NaN, double.NaN)], double.NaN) }));
            MeasuredSide read = kept.Find("clean/0/9") ?? throw new InvalidOperationException("It was not kept.");

            Assert.Null(kept.Find("clean/1/9"));
            Assert.True(envelope.BandPower(0).SequenceEqual(read.Envelope.BandPower(0)));
            Assert.True(envelope.Bands!.Codes(1, 3).SequenceEqual(read.Envelope.Bands!.Codes(1, 3)));
            Assert.Equal(made.Truth.Tracks, read.Truth.Tracks);
            Assert.Equal(made.Truth.PrintedSeconds, read.Truth.PrintedSeconds);
            Assert.Equal(2, read.Naive[-50].Tracks[0].EndSeconds);
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    [Fact]
    public void Printed_lengths_are_whole_seconds_wrong_each_in_its_own_way()
    {
        var errors = new List<double>();
        int missing = 0;
        for (ulong seed = 0; seed < 1000; seed++)
        {
            IReadOnlyList<double?> printed = PrintedLengths.Draw([200.4, 150.3, 310.2], [0, 0, 0], PrintedErrors.Ordinary, new SeededRandom(seed, "print"));
            missing += printed.Count(p => p is null);
            double[] off = [.. printed.Zip([200.4, 150.3, 310.2]).Where(p => p.First is not null).Select(p => (p.First ?? 0) - p.Second)];
            Assert.All(printed, p => Assert.Equal(Math.Round(p ?? 0), p ?? 0));
            errors.AddRange(off);
        }

        // Own choices: one side in ten lacks a length, one track in thirty is off by 20 to 75 s, one side in eight has labels 5 to 10 s wrong.
        Assert.InRange(missing, 70, 130);
        Assert.InRange(errors.Count(e => Math.Abs(e) > 19) / (double)errors.Count, 0.02, 0.05);
        Assert.InRange(errors.Count(e => Math.Abs(e) is > 4.5 and < 11) / (double)errors.Count, 0.08, 0.16);
        Assert.All(PrintedLengths.Draw([100.2, 99.9], [-1, 0], PrintedErrors.Close, new SeededRandom(1, "close")).Zip([99.2, 99.9]), p => Assert.InRange((p.First ?? 0) - p.Second, -1.5, 1.5));
    }

    [Fact]
    public void The_document_lists_every_class()
    {
        string? folder = AppContext.BaseDirectory;
        while (folder is not null && !File.Exists(Path.Combine(folder, "StationDaemon.sln")))
        {
            folder = Path.GetDirectoryName(folder);
        }

        string[] lines = File.ReadAllLines(Path.Combine(folder ?? throw new DirectoryNotFoundException("No StationDaemon.sln above the tests."), "docs", "evaluation.md"));
        Assert.All(DivisionClasses.All, c =>
        {
            string told = c.Guides.Count == 3 ? "nothing; count; count and lengths" : "count; count and lengths";
            Assert.Contains($"| `{c.Name}` | {c.What} | {told} | {(c.Clean ? "yes" : "")} |", lines);
        });
    }

    private const double SpeedErrorPercent = 0.2;

    private static DividedPlan Plan(SeededRandom random, double noiseDba, int tracks, double gapSeconds, Func<DividedPiece, DividedPiece>? shape = null)
    {
        var planner = new SidePlanner(random, Music, [NoiseModel.A]);
        planner.Recipe.SampleRateHz = 44100;
        planner.Recipe.SpeedErrorPercent = SpeedErrorPercent;
        planner.Recipe.SurfaceDba = noiseDba;
        planner.Recipe.PeakDbfs = -6;
        return new DividedPlan(planner.Recipe)
        {
            Pieces = [.. Enumerable.Range(0, tracks).Select(i => new DividedPiece { Track = Music.Tracks[i], StartSeconds = 0, Seconds = 12, GapSeconds = i + 1 < tracks ? gapSeconds : 0 })
                .Select(p => shape?.Invoke(p) ?? p)],
            LongestLullSeconds = 5,
        };
    }

    private static double Db(double[] cells, int from, int to) => 10 * Math.Log10(cells[from..to].Average());
}
