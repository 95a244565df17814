using System.Collections.Immutable;
using Station.Audio.Division;
using Station.Audio.Findings;
using Station.Audio.Meters;
using Xunit;

namespace Station.Audio.Tests.Division;

/// <remarks>The truth is the model's own: envelopes are made in <see cref="GrooveModel"/>, which shares nothing with the product.</remarks>
public sealed class SideDividerTests
{
    private const double Tolerance = 0.3;

    public static TheoryData<int, double, double, bool> Sides
    {
        get
        {
            TheoryData<int, double, double, bool> data = [];
            int seed = 1;
            foreach (double noise in new[] { -70.0, -60, -52, -45 })
            {
                foreach (double gap in new[] { 1.0, 2, 4 })
                {
                    data.Add(seed++, noise, gap, true);
                    data.Add(seed++, noise, gap, false);
                }
            }

            return data;
        }
    }

    [Theory]
    [MemberData(nameof(Sides))]
    public void A_side_is_divided_at_its_gaps(int seed, double noise, double gap, bool counted)
    {
        GrooveModel side = Side(seed, noise, gap, [200, 170, 240, 155, 215]).Ticks(40);
        SideDivision division = Divide(side, counted ? 5 : null);
        AssertTracks(side, division);
        Assert.Equal(DivisionMethod.Gaps, division.Method);
        Assert.Empty(division.Findings);
        Assert.InRange(division.Confidence, 0.5, 1);
    }

    [Theory]
    [InlineData(60)]
    [InlineData(300)]
    public void Ticks_in_the_gaps_do_not_hide_them(double perMinute)
    {
        for (int seed = 20; seed < 25; seed++)
        {
            GrooveModel side = Side(seed, -55, 2, [130, 180, 95, 160]).Ticks(perMinute);
            AssertTracks(side, Divide(side, null));
        }
    }

    [Fact]
    public void Noise_that_drifts_by_8_dB_is_followed()
    {
        for (int seed = 30; seed < 35; seed++)
        {
            GrooveModel side = new(seed, -58) { DriftDb = 8 };
            Play(side, 2, [200, 170, 240, 155, 215, 180]);
            AssertTracks(side, Divide(side, null));
        }
    }

    [Fact]
    public void A_misprinted_length_does_not_outweigh_a_clear_gap()
    {
        GrooveModel side = new GrooveModel(32, -60).NeedleUp(2).Thump(0.3).Groove(4);
        side.Music(109).Groove(2.6).Music(74).Groove(3.3).Music(73).Groove(6.8).Music(126).Groove(20).NeedleUp(2);
        SideDivision division = SideDivider.Divide(side.Envelope(), new DivisionSettings(), new DivisionGuide(4, [108, 75, 11, null]));
        AssertTracks(side, division);
    }

    // A second more printed is within what prints are off by. Where the end is a fade that sinks into the noise, it is nonetheless more likely to go on than not.
    [Theory]
    [InlineData(40, 0.7)]
    [InlineData(0, 0)]
    public void A_fade_that_is_printed_longer_gets_some_of_the_gap(double fadeOutSeconds, double later)
    {
        GrooveModel side = new GrooveModel(31, -60).NeedleUp(2).Thump(0.3).Groove(4);
        side.Music(150, fadeOutSeconds: fadeOutSeconds).Groove(4).Music(120).Groove(4).Music(130).Groove(20).NeedleUp(2);
        LevelEnvelope envelope = side.Envelope();
        TrackSpan[] heard = [.. SideDivider.Divide(envelope, new DivisionSettings(), new DivisionGuide(3, [])).Tracks];
        double?[] lengths = [.. heard.Select(track => (double?)((track.EndFrame - track.FirstFrame) / (double)envelope.SampleRateHz))];
        lengths[0] += 1.3;
        TrackSpan[] printed = [.. SideDivider.Divide(envelope, new DivisionSettings(), new DivisionGuide(3, [.. lengths])).Tracks];
        Assert.Equal(later, (printed[0].EndFrame - heard[0].EndFrame) / (double)envelope.SampleRateHz, 1e-6);
        Assert.Equal(heard[0].FirstFrame, printed[0].FirstFrame);
        Assert.Equal(heard[1..].Select(track => (track.FirstFrame, track.EndFrame)), printed[1..].Select(track => (track.FirstFrame, track.EndFrame)));
    }

    // A fade ends where it sinks into the noise, 10 s × 40/60 after it began for music 40 dB above: there lies the truth, give or take a second.
    [Fact]
    public void Fades_are_followed_into_the_noise()
    {
        for (int seed = 40; seed < 46; seed++)
        {
            GrooveModel side = new(seed, -60);
            side.NeedleUp(2).Thump(0.2).Groove(3);
            side.Music(150, fadeOutSeconds: 10).Groove(2).Music(180, fadeInSeconds: 4).Groove(2).Music(120, fadeOutSeconds: 8);
            side.RunOut(15, 1.8);
            SideDivision division = Divide(side, null);
            Assert.Equal(3, division.Tracks.Length);
            Assert.Equal(side.Tracks[1].End, Seconds(division.Tracks[1].EndFrame), Tolerance);
            Assert.Equal(side.Tracks[0].End - (10 * 18 / 60.0), Seconds(division.Tracks[0].EndFrame), 1.5);
            Assert.Equal(side.Tracks[1].Start + (4 * 18 / 60.0), Seconds(division.Tracks[1].FirstFrame), 1.0);
            Assert.Equal(side.Tracks[2].End - (8 * 18 / 60.0), Seconds(division.Tracks[2].EndFrame), 1.5);
        }
    }

    [Theory]
    [InlineData(1.8, 0.12)]
    [InlineData(1.8, 0.3)]
    [InlineData(1.333, 0.2)]
    [InlineData(0.77, 0.15)]
    public void Run_out_thumps_and_the_needle_are_no_tracks(double turnSeconds, double thumpSeconds)
    {
        for (int seed = 50; seed < 54; seed++)
        {
            GrooveModel side = new(seed, -58);
            side.NeedleUp(4).Thump(0.4).Groove(5).Music(170).Groove(2).Music(200);
            side.Groove(3).RunOut(45, turnSeconds, thumpSeconds).Thump(0.5).NeedleUp(5);
            AssertTracks(side, Divide(side, null));
            AssertTracks(side, Divide(side, 2));
        }
    }

    [Fact]
    public void Knocks_after_the_lift_are_no_track()
    {
        GrooveModel side = Side(55, -58, 2, [170, 200]);
        side.NeedleUp(3).Thump(2.5, -40).NeedleUp(6);
        AssertTracks(side, Divide(side, null));
    }

    [Fact]
    public void A_lead_in_is_not_needed()
    {
        GrooveModel side = new(56, -58);
        side.Music(170).Groove(2).Music(200).Groove(2).Music(100);
        SideDivision division = Divide(side, null);
        AssertTracks(side, division);
    }

    [Fact]
    public void Needle_up_noise_is_not_taken_for_the_groove()
    {
        for (int seed = 60; seed < 65; seed++)
        {
            GrooveModel side = new(seed, -50);
            side.NeedleUp(8, -90).Thump(0.2).Groove(1.5).Music(170).Groove(1.5).Music(200).Groove(1.5).Music(150).Groove(2).Thump(0.2).NeedleUp(20, -90);
            AssertTracks(side, Divide(side, null));
        }
    }

    [Theory]
    [InlineData(null)]
    [InlineData(1)]
    public void A_side_without_a_gap_is_one_track(int? count)
    {
        GrooveModel side = Side(70, -58, 2, [1100]);
        SideDivision division = Divide(side, count);
        AssertTracks(side, division);
        Assert.Equal(DivisionMethod.WholeSide, division.Method);
        Assert.Empty(division.Findings);
    }

    [Theory]
    [InlineData(null)]
    [InlineData(61)]
    public void Sixty_gaps_are_sixty_gaps(int? count)
    {
        GrooveModel side = Side(71, -58, 1.2, [.. Enumerable.Range(0, 61).Select(i => 21.0 + (i % 7))]);
        AssertTracks(side, Divide(side, count));
    }

    [Fact]
    public void Pauses_that_leave_short_pieces_are_no_gaps_unless_the_sheet_says_so()
    {
        GrooveModel side = new(72, -58);
        side.Groove(4).Music(150).Groove(2).Music(9).Groove(2).Music(180).Groove(10);
        Assert.Equal(2, Divide(side, null).Tracks.Length);
        AssertTracks(side, Divide(side, 3));
    }

    [Fact]
    public void The_count_chooses_the_clearest_gaps()
    {
        GrooveModel side = new(73, -58);
        side.Groove(4).Music(150).Groove(3).Music(60).Groove(0.6).Music(90).Groove(3).Music(180).Groove(10);
        SideDivision division = Divide(side, 3);
        Assert.Equal(3, division.Tracks.Length);
        Assert.Equal(side.Tracks[1].Start, Seconds(division.Tracks[1].FirstFrame), Tolerance);
        Assert.Equal(side.Tracks[2].End, Seconds(division.Tracks[1].EndFrame), Tolerance);
        Assert.Empty(division.Findings);
    }

    [Fact]
    public void Lengths_choose_between_equal_gaps()
    {
        GrooveModel side = new(74, -58);
        side.Groove(4).Music(100).Groove(2).Music(110).Groove(2).Music(120).Groove(2).Music(130).Groove(10);
        SideDivision division = SideDivider.Divide(side.Envelope(), new DivisionSettings(), new DivisionGuide(3, [101, 234, 129]));
        Assert.Equal(3, division.Tracks.Length);
        Assert.Equal(side.Tracks[1].Start, Seconds(division.Tracks[1].FirstFrame), Tolerance);
        Assert.Equal(side.Tracks[2].End, Seconds(division.Tracks[1].EndFrame), Tolerance);
        Assert.Empty(division.Findings);
    }

    [Fact]
    public void One_track_more_than_the_sheet_lists_is_a_finding()
    {
        GrooveModel side = Side(75, -58, 3, [150, 160, 170, 180]);
        SideDivision division = Divide(side, 3);
        Assert.Equal(3, division.Tracks.Length);
        Finding finding = Assert.Single(division.Findings);
        Assert.Equal((FindingCodes.TracksUnexpected, Severity.Review, 4.0, 3.0), (finding.Code, finding.Severity, finding.Measured, finding.Limit));
        Assert.NotEmpty(finding.Advice);
    }

    [Fact]
    public void Fewer_gaps_than_the_sheet_needs_is_a_finding_and_what_was_heard_is_kept()
    {
        GrooveModel side = Side(76, -58, 3, [150, 160]);
        SideDivision division = Divide(side, 9);
        Assert.Contains(division.Findings, finding => finding.Code is FindingCodes.TracksUnexpected or FindingCodes.DivisionUnsure);
        Assert.Equal(Verdict.Review, VerdictRule.Of(division.Findings));
        AssertInOrder(side, division);
    }

    [Fact]
    public void Lengths_that_do_not_fit_are_a_finding()
    {
        GrooveModel side = Side(77, -58, 3, [150, 160, 170]);
        SideDivision division = SideDivider.Divide(side.Envelope(), new DivisionSettings(), new DivisionGuide(3, [150, 160, 300]));
        Finding finding = Assert.Single(division.Findings);
        Assert.Equal(FindingCodes.TracksUnexpected, finding.Code);
        SecondsSpan span = Assert.Single(finding.Spans);
        Assert.Equal(side.Tracks[2].Start, span.StartSeconds, Tolerance);
    }

    [Fact]
    public void Without_any_gap_the_sheets_lengths_cut_and_a_person_is_asked()
    {
        GrooveModel side = Side(78, -58, 3, [600]);
        SideDivision division = SideDivider.Divide(side.Envelope(), new DivisionSettings(), new DivisionGuide(3, [100, 200, 300]));
        Assert.Equal(3, division.Tracks.Length);
        Assert.Contains(division.Findings, finding => finding.Code == FindingCodes.DivisionUnsure);
        AssertInOrder(side, division);
    }

    [Fact]
    public void Silence_has_no_tracks_and_asks_for_a_person()
    {
        float[] nothing = new float[3000];
        SideDivision division = SideDivider.Divide(
            LevelEnvelope.FromSeries(48_000, 960, 3000 * 960, (nothing, nothing, nothing)), new DivisionSettings(), DivisionGuide.None);
        Assert.Empty(division.Tracks);
        Assert.Equal((FindingCodes.DivisionUnsure, Severity.Review), division.Findings.Select(finding => (finding.Code, finding.Severity)).Single());
        SideDivision empty = SideDivider.Divide(LevelEnvelope.FromSeries(48_000, 960, 0, ([], [], [])), new DivisionSettings(), new DivisionGuide(3, []));
        Assert.Empty(empty.Tracks);
        Assert.Equal(Verdict.Review, VerdictRule.Of(empty.Findings));
    }

    [Theory]
    [InlineData(null)]
    [InlineData(5)]
    public void Noise_alone_is_no_success(int? count)
    {
        GrooveModel side = new GrooveModel(80, -50).Groove(600);
        SideDivision division = Divide(side, count);
        Assert.Equal(DivisionMethod.WholeSide, division.Method);
        Assert.Equal(0, division.Confidence);
        Assert.Equal(Verdict.Review, VerdictRule.Of(division.Findings));
        AssertInOrder(side, division);
    }

    [Theory]
    [InlineData(-12)]
    [InlineData(-3)]
    [InlineData(6)]
    public void The_recording_level_moves_no_cut_by_more_than_a_step(double gainDb)
    {
        GrooveModel side = Side(81, -57, 1.5, [120, 130, 140]).Ticks(30);
        SideDivision plain = Divide(side, null);
        SideDivision moved = SideDivider.Divide(side.Envelope(gainDb), new DivisionSettings(), DivisionGuide.None);
        Assert.Equal(plain.Tracks.Length, moved.Tracks.Length);
        for (int i = 0; i < plain.Tracks.Length; i++)
        {
            Assert.Equal(plain.Tracks[i].FirstFrame, moved.Tracks[i].FirstFrame, 960.0);
            Assert.Equal(plain.Tracks[i].EndFrame, moved.Tracks[i].EndFrame, 960.0);
        }
    }

    [Fact]
    public void One_channel_is_divided_as_two_are()
    {
        GrooveModel side = Side(82, -57, 2, [120, 130, 140]);
        SideDivision mono = SideDivider.Divide(side.Envelope(channels: 1), new DivisionSettings(), DivisionGuide.None);
        Assert.Equal(Divide(side, null).Tracks, mono.Tracks);
    }

    [Fact]
    public void Pads_move_the_cuts_and_nothing_else()
    {
        GrooveModel side = Side(85, -58, 2, [120, 130, 140]);
        SideDivision bare = SideDivider.Divide(side.Envelope(), new DivisionSettings { PadBeforeSeconds = 0, PadAfterSeconds = 0 }, DivisionGuide.None);
        SideDivision wide = SideDivider.Divide(side.Envelope(), new DivisionSettings { PadBeforeSeconds = 0.25, PadAfterSeconds = 0.5 }, DivisionGuide.None);
        Assert.Equal(bare.Tracks.Select(t => t with { FirstFrame = t.FirstFrame - 12_000, EndFrame = t.EndFrame + 24_000 }), wide.Tracks);

        // More than the gaps hold: the tracks meet in them.
        SideDivision widest = SideDivider.Divide(side.Envelope(), new DivisionSettings { PadBeforeSeconds = 2, PadAfterSeconds = 2 }, DivisionGuide.None);
        AssertInOrder(side, widest);
        Assert.Equal(widest.Tracks.Skip(1).Select(t => t.FirstFrame), widest.Tracks.SkipLast(1).Select(t => t.EndFrame));
    }

    [Theory]
    [InlineData(null)]
    [InlineData(3)]
    public void A_side_without_gaps_stays_without_gaps(int? steps)
    {
        // Whatever the pads, each frame of music is in one file and in one only.
        GrooveModel side = Side(86, -58, 3, [600]);
        SideDivision division = SideDivider.Divide(
            side.Envelope(), new DivisionSettings { PadBeforeSeconds = (steps ?? 0) / 2.0, PadAfterSeconds = (steps ?? 0) / 3.0 }, new DivisionGuide(3, [100, 200, 300]));
        Assert.Equal(3, division.Tracks.Length);
        Assert.Equal(division.Tracks.Skip(1).Select(t => t.FirstFrame), division.Tracks.SkipLast(1).Select(t => t.EndFrame));
    }

    [Theory]
    [InlineData(4, 7.2)]
    [InlineData(1, 1.8)]
    [InlineData(20, 36)]
    public void A_closed_groove_ends_the_last_track_after_so_many_turns(int turns, double seconds)
    {
        // What repeats is music to the last; only the inspection can tell that it does.
        GrooveModel side = new(83, -58);
        side.NeedleUp(2).Thump(0.25).Groove(4).Music(150).Groove(2).Music(200);
        double from = side.Seconds - 60.25;
        side.Thump(0.2).NeedleUp(2);
        SideDivision division = SideDivider.Divide(
            side.Envelope(), new DivisionSettings { LockedGrooveTurns = turns }, new DivisionGuide(2, [150, 139 + seconds]) { Locked = new LockedGroove(from, 1.8) });

        Assert.Equal(2, division.Tracks.Length);
        Assert.Equal((long)Math.Round((from + seconds) * 48_000), division.Tracks[1].EndFrame);
        Assert.Equal(1, division.Tracks[1].EndConfidence);
        Assert.Equal(side.Tracks[1].Start, Seconds(division.Tracks[1].FirstFrame), Tolerance);
        Assert.Empty(division.Findings);
    }

    [Theory]
    [InlineData(30, 40)]
    [InlineData(-5, 1)]
    public void A_closed_groove_that_would_end_beyond_the_music_or_before_it_changes_nothing(double beforeEnd, int turns)
    {
        GrooveModel side = Side(84, -58, 2, [150, 160]);
        double from = beforeEnd < 0 ? beforeEnd : side.Tracks[1].End - beforeEnd;
        SideDivision division = SideDivider.Divide(
            side.Envelope(), new DivisionSettings { LockedGrooveTurns = turns }, DivisionGuide.None with { Locked = new LockedGroove(from, 1.8) });
        AssertTracks(side, division);
    }

    // Whatever the envelope: tracks in order, apart, inside, numbered; and none at all only with a finding.
    [Fact]
    public void Tracks_are_always_in_order_apart_and_inside()
    {
        for (int seed = 0; seed < 120; seed++)
        {
            Random random = new(seed);
            GrooveModel side = new(seed, -80 + (50 * random.NextDouble())) { MusicDbfs = -60 + (55 * random.NextDouble()) };
            int parts = random.Next(1, 25);
            for (int i = 0; i < parts; i++)
            {
                double seconds = Math.Pow(random.NextDouble(), 3) * 60;
                _ = random.Next(6) switch
                {
                    0 => side.NeedleUp(seconds, -120 + (100 * random.NextDouble())),
                    1 => side.Groove(seconds),
                    2 => side.Thump(Math.Min(seconds, 3)),
                    3 => side.RunOut(seconds, 1.8),
                    _ => side.Music(seconds, random.Next(5), random.Next(10)),
                };
            }

            if (side.Seconds < 0.1)
            {
                continue;
            }

            int? count = random.Next(3) == 0 ? null : random.Next(1, 12);
            ImmutableArray<double?> lengths = count is int n && random.Next(2) == 0
                ? [.. Enumerable.Range(0, n).Select(_ => random.Next(4) == 0 ? (double?)null : 300 * random.NextDouble())]
                : [];
            SideDivision division = SideDivider.Divide(side.Envelope(), new DivisionSettings(), new DivisionGuide(count, lengths));
            AssertInOrder(side, division);
            if (count is int expected && division.Tracks.Length != expected)
            {
                Assert.NotEqual(Verdict.Accept, VerdictRule.Of(division.Findings));
            }
        }
    }

    private static GrooveModel Side(int seed, double noise, double gap, double[] tracks)
    {
        GrooveModel side = new(seed, noise);
        Play(side, gap, tracks);
        return side;
    }

    private static void Play(GrooveModel side, double gap, double[] tracks)
    {
        side.NeedleUp(2).Thump(0.25).Groove(4);
        for (int i = 0; i < tracks.Length; i++)
        {
            if (i > 0)
            {
                side.Groove(gap);
            }

            side.Music(tracks[i]);
        }

        side.Groove(2).RunOut(18, 1.8).Thump(0.2).NeedleUp(2);
    }

    private static SideDivision Divide(GrooveModel side, int? count) =>
        SideDivider.Divide(side.Envelope(), new DivisionSettings(), new DivisionGuide(count, []));

    private static double Seconds(long frame) => frame / 48_000.0;

    private static void AssertTracks(GrooveModel side, SideDivision division)
    {
        AssertInOrder(side, division);
        Assert.Equal(side.Tracks.Count, division.Tracks.Length);
        for (int i = 0; i < division.Tracks.Length; i++)
        {
            Assert.Equal(side.Tracks[i].Start, Seconds(division.Tracks[i].FirstFrame), Tolerance);
            Assert.Equal(side.Tracks[i].End, Seconds(division.Tracks[i].EndFrame), Tolerance);
        }
    }

    private static void AssertInOrder(GrooveModel side, SideDivision division)
    {
        long previous = 0;
        int number = 1;
        foreach (TrackSpan track in division.Tracks)
        {
            Assert.Equal(number++, track.Number);
            Assert.True(track.FirstFrame >= previous, "A track begins before the one before it has ended.");
            Assert.True(track.EndFrame > track.FirstFrame, "A track has no length.");
            Assert.InRange(track.Confidence, 0, 1);
            previous = track.EndFrame;
        }

        Assert.True(previous <= side.Envelope().TotalFrames, "The last track ends after the capture.");
        Assert.True(division.Tracks.Length > 0 || VerdictRule.Of(division.Findings) == Verdict.Review, "No tracks, and nobody is asked.");
    }
}
