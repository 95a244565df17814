using System.Collections.Immutable;
using Station.Audio.Meters;
using Xunit;

namespace Station.Audio.Tests.Meters;

public sealed class TickTests
{
    [Theory]
    [InlineData(44_100)]
    [InlineData(96_000)]
    [InlineData(192_000)]
    [InlineData(22_050)]
    [InlineData(8_000)]
    public void Each_tick_is_found_where_it_is(int rateHz)
    {
        float[] samples = TurnSignal.Noise(-70, 20, rateHz, 1);
        var random = new Random(2);
        List<int> places = [];
        for (double at = 0.5; at < 19.5; at += 0.05 + (0.2 * random.NextDouble()))
        {
            places.Add((int)(at * rateHz));
            TurnSignal.Tick(samples, places[^1], -30, rateHz);
        }

        ImmutableArray<Tick> ticks = Ticks(samples, rateHz);
        Assert.Equal(places.Count, ticks.Length);
        for (int i = 0; i < places.Count; i++)
        {
            // At 8 kHz what is left of a tick is eight samples long.
            double reach = rateHz < 20_000 ? 0.0015 : 0.0006;
            Assert.InRange((double)(ticks[i].Frame - places[i]) / rateHz, -reach, reach);

            // The tick's first sample is its peak: the wave leaves its course by that much, give or take the noise and its own swing back.
            Assert.InRange(ticks[i].PeakDbfs, -36.5, -26);
        }
    }

    [Fact]
    public void Ticks_of_one_channel_are_told_from_ticks_of_both()
    {
        float[] left = TurnSignal.Noise(-70, 3, 48_000, 3);
        float[] right = TurnSignal.Noise(-70, 3, 48_000, 4);
        TurnSignal.Tick(left, 48_000, -30, 48_000);
        TurnSignal.Tick(right, 72_000, -30, 48_000);
        TurnSignal.Tick(left, 96_000, -30, 48_000);
        TurnSignal.Tick(right, 96_010, -24, 48_000);
        ImmutableArray<Tick> ticks = TestSignal.Read(TestSignal.Stereo(left, right)).Disc.Ticks.Ticks;
        Assert.Equal([(true, false), (false, true), (true, true)], ticks.Select(tick => (tick.Left, tick.Right)));
    }

    [Fact]
    public void Drums_noise_and_steps_of_loudness_are_no_ticks()
    {
        // A stick on a rim dies away over 20 ms, an applause over as long (from memory of such sounds): decaying bursts of noise.
        float[] samples = TurnSignal.Noise(-70, 20, 48_000, 5);
        float[] burst = TurnSignal.Noise(-10, 0.3, 48_000, 6);
        for (double at = 0.5; at < 19; at += 0.13)
        {
            for (int i = 0; i < burst.Length; i++)
            {
                samples[(int)(at * 48_000) + i] += (float)(burst[i] * Math.Exp(-i / (0.02 * 48_000)));
            }
        }

        Assert.InRange(Ticks(samples, 48_000).Length, 0, 2);
    }

    [Theory]
    [InlineData(40)]
    [InlineData(600)]
    [InlineData(1500)]
    public void The_rate_in_bare_groove_is_counted(int perMinute)
    {
        const int RateHz = 44_100;
        const double Seconds = 70;
        float[] samples = TurnSignal.Noise(-66, Seconds, RateHz, 7);
        float[] music = TurnSignal.Chords(40, RateHz, 1.8, 0);
        for (int i = 0; i < music.Length; i++)
        {
            samples[(15 * RateHz) + i] += music[i];
        }

        var random = new Random(8);
        double expected = 0;
        for (double at = 0.3; at < Seconds; at += 60.0 / perMinute * (0.5 + random.NextDouble()))
        {
            TurnSignal.Tick(samples, (int)(at * RateHz), -30, RateHz);
            expected++;
        }

        SideReading reading = TestSignal.Read(TestSignal.Both(samples), 2, RateHz);
        SideOutline outline = new()
        {
            Steps = 3500,
            StepFrames = 882,
            Music = [new StepSpan(750, 2750)],
            Groove = [new GrooveSpan(10, 740, GroovePlace.LeadIn), new GrooveSpan(2760, 3490, GroovePlace.RunOut)],
        };
        TickRates rates = TickRates.Of(reading.Disc.Ticks, outline, reading.Envelope);
        Assert.Equal(14.6 + 3, rates.GrooveSeconds, 1e-6);
        Assert.InRange(Assert.NotNull(rates.GroovePerMinute), 0.75 * 60 * expected / Seconds, 1.25 * 60 * expected / Seconds);
    }

    [Fact]
    public void Many_ticks_are_thinned_and_counted_exactly()
    {
        TickList list = new();
        for (int i = 0; i < 3 * TickList.Capacity; i++)
        {
            list.Add(new Tick(i, 0, 0, Left: true, Right: false));
        }

        Assert.Equal(3 * TickList.Capacity, list.Count);
        Assert.Equal(4, list.KeptEvery);
        Assert.Equal(Enumerable.Range(0, 3 * TickList.Capacity / 4).Select(i => 4L * i), list.Ticks.Select(tick => tick.Frame));
    }

    [Fact]
    public void A_scratch_is_found_among_dust()
    {
        var random = new Random(9);
        List<Tick> ticks = [.. Enumerable.Range(0, 200).Select(_ => At(random.NextDouble() * 200))];
        ticks.AddRange(Enumerable.Range(0, 15).Where(turn => turn != 6).Select(turn => At(60 + (turn * 1.804) + (0.0004 * random.NextDouble()))));
        Scratch scratch = Assert.Single(ScratchFinder.Find([.. ticks.OrderBy(tick => tick.Frame)], 48_000, 1.8));
        Assert.Equal(15, scratch.Turns);
        Assert.Equal(14, scratch.Ticks);
        Assert.InRange(scratch.FirstFrame / 48_000.0, 59.9, 60.1);
        Assert.InRange(scratch.TurnSeconds, 1.803, 1.805);

        // Without a measured turn the usual speeds are tried.
        Assert.Single(ScratchFinder.Find([.. ticks.OrderBy(tick => tick.Frame)], 48_000, turnSeconds: null));
    }

    [Fact]
    public void Beats_that_divide_the_turn_and_dust_alone_are_no_scratch()
    {
        // 133.33 beats a minute: four to a turn at 33 1/3.
        Assert.Empty(ScratchFinder.Find([.. Enumerable.Range(0, 400).Select(beat => At(5 + (beat * 0.45)))], 48_000, 1.8));
        for (int seed = 0; seed < 20; seed++)
        {
            var random = new Random(seed);
            Assert.Empty(ScratchFinder.Find([.. Enumerable.Range(0, 1500).Select(_ => At(random.NextDouble() * 100)).OrderBy(tick => tick.Frame)], 48_000, 1.8));
        }
    }

    [Fact]
    public void A_row_of_faint_ticks_is_found_among_three_others_a_second()
    {
        for (int seed = 0; seed < 10; seed++)
        {
            var random = new Random(seed);
            List<double> times = [.. Enumerable.Range(0, 600).Select(_ => random.NextDouble() * 200)];
            times.AddRange(Enumerable.Range(0, 30).Where(turn => turn % 7 != 3).Select(turn => 60 + (turn * 1.802) + (0.0004 * random.NextDouble())));
            Scratch scratch = Assert.Single(Faint(times, 200, 1.8));
            Assert.Equal(30, scratch.Turns);
            Assert.InRange(scratch.Ticks, 26, 28);
            Assert.InRange(scratch.FirstFrame / 48_000.0, 59.9, 60.1);
            Assert.Equal(-40, scratch.PeakDbfs, 0.5);

            // What lies behind the end of the music is the run-out's.
            Assert.Empty(Faint(times, 60, 1.8));
        }
    }

    [Fact]
    public void Faint_ticks_by_chance_and_faint_beats_are_no_scratch()
    {
        for (int seed = 0; seed < 10; seed++)
        {
            var random = new Random(seed);
            Assert.Empty(Faint(Enumerable.Range(0, 4000).Select(_ => random.NextDouble() * 200), 200, 1.8));
            Assert.Empty(Faint(Enumerable.Range(0, 1200).Select(_ => random.NextDouble() * 200), 200, null));

            // Four beats to a turn, struck by hand: 2 ms early or late (own choice).
            Assert.Empty(Faint(Enumerable.Range(0, 400).Select(beat => 5 + (beat * 0.45) + (0.002 * random.NextDouble())), 200, 1.8));
        }
    }

    [Fact]
    public void A_row_that_stands_out_of_a_music_of_pulses_is_a_scratch()
    {
        for (int seed = 0; seed < 10; seed++)
        {
            // Fifty pulses a second, each as strong as the others to 3 dB, and one tick a turn 15 dB above them; and the same with a tick no stronger than they.
            Assert.Empty(AmongPulses(seed, -30));
            Scratch scratch = Assert.Single(AmongPulses(seed, -15));
            Assert.InRange(scratch.Ticks, 14, 15);
            Assert.Equal(15, scratch.Turns);
            Assert.InRange(scratch.FirstFrame / 48_000.0, 59.9, 60.1);
            Assert.Equal(-15, scratch.PeakDbfs, 0.5);
        }
    }

    [Fact]
    public void Accents_of_a_bar_that_is_as_long_as_the_turn_are_no_scratch()
    {
        // A machine's bar of 1.8 s, 133.33 beats a minute (computed): eight even strokes, the first 12 dB stronger.
        Assert.Empty(Faint(Enumerable.Range(0, 400).Select(stroke => (5 + (stroke * 0.225), stroke % 8 == 0 ? -12.0 : -24)), 200, 1.8));
        Assert.Empty(Faint(Enumerable.Range(0, 400).Select(stroke => (5 + (stroke * 0.225), stroke % 8 == 0 ? -12.0 : -24)), 200, null));
    }

    [Fact]
    public void A_scratch_too_faint_for_ticks_is_found_under_noise()
    {
        // Six standard deviations of the noise high: now and then one is lost in it.
        float[] samples = TurnSignal.Noise(-40, 70, 48_000, 11);
        for (int turn = 0; turn < 30; turn++)
        {
            TurnSignal.Tick(samples, (int)((8 + (1.8 * turn)) * 48_000), -25, 48_000);
        }

        DiscReading disc = TestSignal.Read(samples, channels: 1).Disc;
        Assert.InRange(disc.Ticks.Count, 0, 20);
        ImmutableArray<Scratch> scratches = ScratchFinder.Find(disc.Ticks.Ticks, disc.Ticks.Faint, 70 * 48_000, 48_000, 1.8);
        Scratch scratch = Assert.Single(scratches);
        Assert.InRange(scratch.Turns, 24, 30);
        Assert.InRange(scratch.FirstFrame / 48_000.0, 7.99, 8.01 + (4 * 1.8));
    }

    [Fact]
    public void Faint_ticks_take_no_more_room_than_they_may()
    {
        FaintTicks faint = new();
        for (int i = 0; i < FaintTicks.Capacity + 10; i++)
        {
            faint.Add(i * 0.02, 0.1f);
        }

        faint.Add(1e9, 0.1f);
        Assert.Equal(FaintTicks.Capacity, faint.Count);
        Assert.Equal(0.02, faint.SecondsAt(1), 1e-9);
        Assert.Equal(-20, faint.PeakDbfs(1), 0.25);
    }

    private static ImmutableArray<Scratch> AmongPulses(int seed, double scratchDbfs)
    {
        var random = new Random(seed);
        List<(double Seconds, double Dbfs)> impulses = [];
        for (double at = 1; at < 200; at += 0.02 * (0.7 + (0.6 * random.NextDouble())))
        {
            impulses.Add((at, -33 + (6 * random.NextDouble())));
        }

        impulses.AddRange(Enumerable.Range(0, 15).Select(turn => (60 + (turn * 1.802) + (0.0004 * random.NextDouble()), scratchDbfs)));
        return Faint(impulses, 200, 1.8);
    }

    private static ImmutableArray<Scratch> Faint(IEnumerable<double> times, double endSeconds, double? turnSeconds) =>
        Faint(times.Select(time => (time, -40.0)), endSeconds, turnSeconds);

    private static ImmutableArray<Scratch> Faint(IEnumerable<(double Seconds, double Dbfs)> impulses, double endSeconds, double? turnSeconds)
    {
        FaintTicks faint = new();
        foreach ((double seconds, double dbfs) in impulses.OrderBy(impulse => impulse.Seconds))
        {
            faint.Add(seconds, (float)TestSignal.Amplitude(dbfs));
        }

        return ScratchFinder.Find([], faint, (long)(endSeconds * 48_000), 48_000, turnSeconds);
    }

    private static Tick At(double seconds) => new((long)(seconds * 48_000), -20, 30, Left: true, Right: true);

    private static ImmutableArray<Tick> Ticks(float[] samples, int rateHz) => TestSignal.Read(samples, channels: 1, rateHz: rateHz).Disc.Ticks.Ticks;
}
