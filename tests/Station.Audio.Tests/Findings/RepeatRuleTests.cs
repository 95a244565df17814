using Station.Audio.Findings;
using Station.Audio.Meters;
using Station.Audio.Meters.Turns;
using Station.Audio.Reading;
using Station.Audio.Tests.Meters;
using Xunit;

namespace Station.Audio.Tests.Findings;

/// <remarks>Places, numbers of turns and what differs between two playings are computed from how the signals are made; the limits are the project's own.</remarks>
public sealed class RepeatRuleTests
{
    // A piece of the meter lasts 0.3 s: no place is told better.
    private const double PlaceSeconds = 0.45;

    [Theory]
    [InlineData(44_100, 2, 1.8, 4)]
    [InlineData(44_100, 1, 1.8, 4)]
    [InlineData(48_000, 2, 1.3333, 6)]
    [InlineData(48_000, 2, 0.7667, 6)]
    [InlineData(8_000, 2, 1.8, 4)]
    [InlineData(8_000, 1, 0.77, 8)]
    [InlineData(22_050, 2, 1.75, 4)]
    [InlineData(96_000, 2, 1.3333, 3)]
    [InlineData(192_000, 2, 1.8, 2)]
    public void A_turn_that_is_played_over_and_over_before_the_music_goes_on_is_a_stuck_stylus(int rateHz, int channels, double turn, int times)
    {
        const double Place = 9.3;
        PlayedGroove groove = new PlayedGroove(rateHz, 18, 1).Tune(4, 15).Lifted(1).Play(0, Place);
        double at = groove.PlayedSeconds;
        groove.Stick(Place, turn, times).Play(Place, 18).Lifted(1);
        Finding finding = Assert.Single(Judge(groove, rateHz, channels));
        Assert.Equal((FindingCodes.GrooveRepeats, Severity.Retake), (finding.Code, finding.Severity));
        SecondsSpan span = Assert.Single(finding.Spans);
        Assert.Equal(at - turn, span.StartSeconds, PlaceSeconds);
        Assert.Equal(at + (times * turn), span.EndSeconds, PlaceSeconds);
        Assert.Equal(times, finding.Count);

        // Half of twice the new noise, against the groove's noise with its own new noise in it: −9 dB − 10 · log10(1 + 10^−0.9) (computed).
        Assert.Equal(-9.5, finding.Measured!.Value, 1.0);
        Assert.Contains("play this side again", finding.Advice, StringComparison.Ordinal);
    }

    [Fact]
    public void Two_stuck_places_are_one_finding_with_two_spans()
    {
        PlayedGroove groove = new PlayedGroove(44_100, 40, 2).Tune(4, 35).Lifted(1).Play(0, 12).Stick(12, 1.8, 3).Play(12, 24).Stick(24, 1.8, 2).Play(24, 40).Lifted(1);
        Finding finding = Assert.Single(Judge(groove, 44_100, 2));
        Assert.Equal(2, finding.Spans.Length);
        Assert.Equal(5, finding.Count);
    }

    [Theory]
    [InlineData(1.8)]
    [InlineData(1.3333)]
    [InlineData(1.77)]
    public void A_loop_in_the_music_is_cut_with_other_noise_and_is_no_finding(double period)
    {
        PlayedGroove groove = new PlayedGroove(44_100, 22, 3).Loop(4, 18, period).Lifted(1).Play(0, 22).Lifted(1);
        SideReading reading = Read(groove, 44_100, 2);
        Assert.Empty(Judge(reading));

        // It is seen all the same: what differs are two noises that have nothing to do with each other, half of whose sum is the noise itself (computed: 0 dB).
        RepeatRun loop = RepeatRuns.Of(reading).MaxBy(run => run.Turns)!;
        Assert.Equal(period, loop.TurnSeconds, 0.001);
        Assert.Equal(0, loop.DifferenceDb, 0.7);
    }

    [Fact]
    public void A_held_chord_is_no_finding()
    {
        PlayedGroove groove = new PlayedGroove(44_100, 30, 4).HeldChord(4, 25).Lifted(1).Play(0, 30).Lifted(1);
        Assert.Empty(Judge(groove, 44_100, 2));
    }

    [Fact]
    public void A_stuck_stylus_is_heard_under_a_held_chord()
    {
        PlayedGroove groove = new PlayedGroove(44_100, 30, 5).HeldChord(4, 25).Lifted(1).Play(0, 14).Stick(14, 1.8, 5).Play(14, 30).Lifted(1);
        Assert.Equal(FindingCodes.GrooveRepeats, Assert.Single(Judge(groove, 44_100, 2)).Code);
    }

    [Fact]
    public void A_motor_that_wavers_does_not_hide_it()
    {
        // 26 µs at 3.1 Hz is a speed that is up to 0.05 % off (computed), a usual turntable (common practice, no source).
        PlayedGroove groove = new PlayedGroove(44_100, 22, 12) { WaverSeconds = 26e-6 }.Tune(4, 19).Lifted(1).Play(0, 10).Stick(10, 1.8, 5).Play(10, 22).Lifted(1);
        Finding finding = Assert.Single(Judge(groove, 44_100, 2));
        Assert.Equal((FindingCodes.GrooveRepeats, 5), (finding.Code, finding.Count));
    }

    [Fact]
    public void The_run_out_repeats_and_is_no_finding()
    {
        PlayedGroove groove = new PlayedGroove(44_100, 30, 6).Tune(4, 25).Lifted(1).Play(0, 30).Stick(30, 1.8, 8).Lifted(1);
        SideReading reading = Read(groove, 44_100, 2);
        Assert.Empty(Judge(reading));
        Assert.Contains(RepeatRuns.Of(reading), run => run.DifferenceDb < -8 && run.MusicDb < 3 && Math.Abs(run.TurnSeconds - 1.8) < 0.001);
    }

    [Theory]
    [InlineData(600)]
    [InlineData(1_500)]
    public void A_run_out_that_crackles_is_no_music(double ticksPerMinute)
    {
        // Its ticks come back each turn, and the sheet has more music than there was: only that nothing but noise lies between the ticks tells it from a stuck stylus.
        PlayedGroove groove = new PlayedGroove(44_100, 32, 21).Tune(4, 25).Crackle(ticksPerMinute).Lifted(1).Play(0, 30).Stick(30, 1.8, 10).Lifted(1);
        SideReading reading = Read(groove, 44_100, 2);
        Assert.Contains(RepeatRuns.Of(reading), run => run.DifferenceDb < -5 && run.MusicDb < 3 && Math.Abs(run.TurnSeconds - 1.8) < 0.001);
        Assert.Empty(RepeatRule.Judge(reading, new InspectionLimits(), new SideExpectations { MusicSeconds = 90, TrackCount = 4 }));
    }

    [Theory]
    [InlineData(600, 1.8)]
    [InlineData(1_500, 1.8)]
    [InlineData(1_500, 1.3333)]
    public void A_loop_on_a_side_that_crackles_is_no_finding(double ticksPerMinute, double period)
    {
        // The gaps are full of ticks: were they part of the noise, two grooves would differ by less than that.
        PlayedGroove groove = new PlayedGroove(44_100, 22, 22).Loop(4, 18, period).Crackle(ticksPerMinute).Lifted(1).Play(0, 22).Lifted(1);
        Assert.Empty(Judge(groove, 44_100, 2));
    }

    [Theory]
    [InlineData(0, -12)]
    [InlineData(1_500, -12)]
    public void A_scratch_once_per_turn_is_no_stuck_stylus(double ticksPerMinute, double dbfs)
    {
        PlayedGroove groove = new PlayedGroove(44_100, 40, 23).Tune(4, 36).Scratch(5, 35, 1.8, dbfs).Crackle(ticksPerMinute).Lifted(1).Play(0, 40).Lifted(1);
        Assert.Empty(Judge(groove, 44_100, 2));
    }

    [Theory]
    [InlineData(600)]
    [InlineData(1_500)]
    public void A_stuck_stylus_is_heard_where_it_crackles(double ticksPerMinute)
    {
        PlayedGroove groove = new PlayedGroove(44_100, 24, 24).Tune(4, 21).Crackle(ticksPerMinute).Lifted(1).Play(0, 12).Stick(12, 1.8, 6).Play(12, 24).Lifted(1);
        Finding finding = Assert.Single(Judge(groove, 44_100, 2));
        Assert.Equal((FindingCodes.GrooveRepeats, 6), (finding.Code, finding.Count));
    }

    [Fact]
    public void Music_that_repeats_at_another_lag_than_the_run_out_is_no_stuck_stylus()
    {
        // The same sound and the same noise, but not by the turn: the run-out tells how long one is.
        PlayedGroove groove = new PlayedGroove(44_100, 30, 7).Tune(4, 25).Lifted(1).Play(0, 14).Stick(14, 1.77, 4).Play(14, 30).Stick(30, 1.8, 8).Lifted(1);
        Assert.Empty(Judge(groove, 44_100, 2));
    }

    [Theory]
    [InlineData(null, null, FindingCodes.LockedGroove, Severity.Note)]
    [InlineData(21.0, 1, FindingCodes.LockedGroove, Severity.Note)]
    [InlineData(60.0, 3, FindingCodes.GrooveRepeats, Severity.Retake)]
    [InlineData(null, 3, FindingCodes.GrooveRepeats, Severity.Retake)]
    [InlineData(null, 1, FindingCodes.LockedGroove, Severity.Note)]
    public void Music_that_repeats_to_the_end_is_a_closed_groove_unless_the_sheet_has_more(double? musicSeconds, int? tracks, string code, Severity severity)
    {
        PlayedGroove groove = new PlayedGroove(44_100, 26, 8).Tune(4, 25).Lifted(1).Play(0, 25).Stick(25, 1.8, 12).Lifted(1);
        SideExpectations expected = new() { MusicSeconds = musicSeconds, TrackCount = tracks };
        SideReading reading = Read(groove, 44_100, 2);
        Finding finding = Assert.Single(RepeatRule.Judge(reading, new InspectionLimits(), expected));
        Assert.Equal((code, severity), (finding.Code, finding.Severity));
        LockedGroove? locked = SideJudge.Judge(reading, [], new InspectionLimits(), expected).Locked;
        Assert.Equal(code == FindingCodes.LockedGroove, locked is not null);
        Assert.Equal(1 + 25 - 1.8, locked?.StartSeconds ?? (1 + 25 - 1.8), PlaceSeconds);
        Assert.Equal(1.8, locked?.TurnSeconds ?? 1.8, 0.002);
        SecondsSpan span = Assert.Single(finding.Spans);
        Assert.Equal(1 + 25 - 1.8, span.StartSeconds, PlaceSeconds);
        Assert.Equal(1 + 25 + (12 * 1.8), span.EndSeconds, PlaceSeconds);
        Assert.Equal(12, finding.Count);
    }

    [Fact]
    public void A_side_played_fast_on_purpose_takes_less_time()
    {
        // 25.3 s of a 33⅓ disc at 45 are 18.7 s: a whole side.
        PlayedGroove groove = new PlayedGroove(44_100, 26, 9).Tune(4, 22.7).Lifted(1).Play(0, 22.7).Stick(22.7, 1.3333, 12).Lifted(1);
        SideReading reading = Read(groove, 44_100, 2);
        SideExpectations expected = new() { MusicSeconds = 25.3, NominalRpm = [100.0 / 3], PlayedAtRpm = 45 };
        Assert.Equal(FindingCodes.LockedGroove, Assert.Single(RepeatRule.Judge(reading, new InspectionLimits(), expected)).Code);
        Assert.Equal(FindingCodes.GrooveRepeats, Assert.Single(RepeatRule.Judge(reading, new InspectionLimits(), expected with { PlayedAtRpm = null, MusicSeconds = 31 })).Code);
    }

    [Fact]
    public void Silence_and_the_shortest_captures_have_nothing_to_tell()
    {
        Assert.Empty(Judge(TestSignal.Read(new float[20 * 48_000])));
        foreach (int frames in (int[])[0, 1, 1_000, 20_000])
        {
            Assert.Empty(Judge(TestSignal.Read(TestSignal.Sine(440, 0.1, frames / 48_000.0, 48_000), channels: 1)));
        }
    }

    [Fact]
    public void A_digital_copy_of_a_second_of_sound_without_a_groove_is_no_stuck_stylus()
    {
        float[] tone = TestSignal.Both(TestSignal.Sine(440, 0.1, 20, 48_000));
        Assert.Empty(Judge(TestSignal.Read(tone)));
    }

    [Fact]
    public void The_reading_does_not_depend_on_the_blocks()
    {
        PlayedGroove groove = new PlayedGroove(44_100, 20, 10).Tune(3, 18).Lifted(1).Play(0, 10).Stick(10, 1.8, 3).Play(10, 20);
        float[] samples = groove.Stereo();
        TurnReading reading = TestSignal.Read(samples, rateHz: 44_100).Turns;
        Assert.NotEmpty(reading.Repeats);
        foreach (int blockFrames in (int[])[333, 44_100])
        {
            TurnReading other = TestSignal.Read(samples, rateHz: 44_100, blockFrames: blockFrames).Turns;
            Assert.Equal(reading.Repeats.Length, other.Repeats.Length);
            for (int i = 0; i < reading.Repeats.Length; i++)
            {
                Assert.Equal(reading.Repeats[i].LagSeconds, other.Repeats[i].LagSeconds);
                Assert.Equal(Numbers(reading.Repeats[i].Differences), Numbers(other.Repeats[i].Differences));
            }
        }
    }

    [Fact]
    public void The_largest_floats_are_taken()
    {
        PlayedGroove groove = new PlayedGroove(44_100, 12, 11).Tune(3, 11).Lifted(1).Play(0, 12);
        float[] loud = [.. groove.Stereo().Select(sample => sample > 0.01f ? 16f : sample < -0.01f ? -16f : sample)];
        Assert.Empty(Judge(TestSignal.Read(loud, rateHz: 44_100, bits: 32, words: WordFormat.Float32)));
    }

    private static float[] Numbers(TurnCells cells)
    {
        float[] numbers = new float[TurnCells.Count];
        for (int i = 0; i < numbers.Length; i++)
        {
            numbers[i] = cells[i];
        }

        return numbers;
    }

    private static SideReading Read(PlayedGroove groove, int rateHz, int channels) =>
        TestSignal.Read(channels == 2 ? groove.Stereo() : groove.Mono(), channels: channels, rateHz: rateHz);

    private static IReadOnlyList<Finding> Judge(PlayedGroove groove, int rateHz, int channels) => Judge(Read(groove, rateHz, channels));

    private static IReadOnlyList<Finding> Judge(SideReading reading) => [.. RepeatRule.Judge(reading, new InspectionLimits(), SideExpectations.None)];
}
