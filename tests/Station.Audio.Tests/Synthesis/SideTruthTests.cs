using Station.Audio.Synthesis;
using Xunit;

namespace Station.Audio.Tests.Synthesis;

public sealed class SideTruthTests
{
    [Fact]
    public void Gaps_and_lead_in_hold_groove_noise_at_the_planned_level_and_nothing_else()
    {
        SidePlan plan = Plans.TwoShortTracks() with { TicksPerMinute = 0, NoiseDriftDb = 0 };
        Heard heard = new(plan);
        TrueTrack first = heard.Truth.Tracks[0], second = heard.Truth.Tracks[1];
        (int From, int To)[] grooves =
        [
            (heard.FrameOf(heard.Truth.NeedleDownSeconds + 0.8), (int)first.MusicStartFrame),
            ((int)first.SilenceFrame, (int)second.MusicStartFrame),
            ((int)second.SilenceFrame, (int)heard.Truth.ThumpFrames[0]),
        ];
        foreach ((int from, int to) in grooves)
        {
            // ±0.7 dB of planned wander, ±0.4 dB swing within the turn, and the scatter of a short measurement.
            Assert.InRange(heard.BandDbfs(heard.Left, from, to), -63.4, -60.6);
            Assert.InRange(heard.BandDbfs(heard.Right, from, to), -63.4, -60.6);
        }
    }

    [Theory]
    [InlineData(1, TrackCharacter.Lively)]
    [InlineData(2, TrackCharacter.Lively)]
    [InlineData(3, TrackCharacter.Solo)]
    [InlineData(4, TrackCharacter.Ballad)]
    public void Music_starts_where_the_truth_says(int seed, TrackCharacter character)
    {
        SidePlan plan = Plans.TwoShortTracks(seed) with { TicksPerMinute = 0, Tracks = [new TrackPlan { Seconds = 4, Character = character }] };
        Heard heard = new(plan);
        int start = (int)heard.Truth.Tracks[0].MusicStartFrame;

        // Differences of neighbouring samples leave out the subsonic part; the first excursion well beyond any in the last second of
        // lead-in is the onset.
        double[] steps = heard.Left.Zip(heard.Left.Skip(1), (a, b) => (double)Math.Abs(b - a)).ToArray();
        double noise = steps[(start - heard.Rate)..(start - (heard.Rate / 100))].Max();
        int onset = Array.FindIndex(steps, start - (heard.Rate / 2), step => step > 1.3 * noise);
        Assert.InRange((onset - start) * 1000.0 / heard.Rate, -1, 6);
    }

    [Fact]
    public void Music_ends_where_the_truth_says_it_falls_below_the_noise()
    {
        SidePlan plan = Plans.TwoShortTracks() with
        {
            TicksPerMinute = 0,
            NoiseDriftDb = 0,
            Tracks = [new TrackPlan { Seconds = 8, Character = TrackCharacter.Chamber, FadeOutSeconds = 4 }],
        };
        Heard heard = new(plan);
        TrueTrack track = heard.Truth.Tracks[0];
        int end = (int)track.MusicEndFrame;
        Assert.InRange(end, track.MusicStartFrame + (6 * heard.Rate), track.SilenceFrame);
        Assert.Equal(track.MusicStartFrame + (8 * heard.Rate), track.SilenceFrame);

        // A quarter second before it the music still stands out; behind it there is at most as much music as noise.
        double noise = heard.BandDbfs(heard.Left, (int)track.SilenceFrame, (int)heard.Truth.ThumpFrames[0]);
        Assert.True(heard.BandDbfs(heard.Left, end - (heard.Rate / 3), end - (heard.Rate / 10)) > noise + 2);
        Assert.True(heard.BandDbfs(heard.Left, end, Math.Min(end + (heard.Rate / 4), heard.Left.Length)) < noise + 3);
    }

    [Fact]
    public void Subsonic_energy_is_there_only_while_the_stylus_is_in_the_groove()
    {
        Heard heard = new(Plans.TwoShortTracks() with { PreRollSeconds = 2, PostRollSeconds = 2.5 });
        int down = heard.FrameOf(heard.Truth.NeedleDownSeconds), lift = heard.FrameOf(heard.Truth.LiftSeconds);
        double before = Subsonic(heard, 0, down);
        double lead = Subsonic(heard, down + heard.Rate, (int)heard.Truth.Tracks[0].MusicStartFrame);
        double gap = Subsonic(heard, (int)heard.Truth.Tracks[0].SilenceFrame, (int)heard.Truth.Tracks[1].MusicStartFrame);
        double after = Subsonic(heard, lift + heard.Rate, heard.Left.Length);
        Assert.True(lead > before + 40, $"lead-in {lead:f1} dB, before the needle drop {before:f1} dB");
        Assert.True(gap > after + 40, $"gap {gap:f1} dB, after the lift {after:f1} dB");

        // Planned: groove noise −62 dBFS + 13 dB. Narrow noise over two seconds scatters by 2 dB.
        Assert.InRange(lead, -54, -44);
    }

    [Fact]
    public void Groove_noise_is_louder_in_side_than_in_mid_by_the_planned_amount()
    {
        Heard heard = new(Plans.BlankGroove(12));
        int from = heard.Rate, to = 12 * heard.Rate;
        Assert.InRange(heard.BandDbfs(heard.Side(), from, to) - heard.BandDbfs(heard.Mid(), from, to), 3.7, 4.3);
        Assert.InRange(heard.BandDbfs(heard.Left, from, to) - heard.BandDbfs(heard.Right, from, to), -0.3, 0.3);
    }

    [Fact]
    public void Groove_noise_drifts_over_the_side()
    {
        Heard heard = new(Plans.BlankGroove(30) with { NoiseDriftDb = 12 });
        double early = heard.BandDbfs(heard.Left, 1 * heard.Rate, 3 * heard.Rate);
        double late = heard.BandDbfs(heard.Left, 27 * heard.Rate, 29 * heard.Rate);

        // 26 of 30 seconds of a 12 dB rise, and up to 1.4 dB of wander.
        Assert.InRange(late - early, 8.8, 12);
    }

    [Theory]
    [InlineData(33.333333333, 1.8)]
    [InlineData(45, 1.333333)]
    public void Run_out_thumps_once_per_turn(double rpm, double turnSeconds)
    {
        // Turn times: IEC 60098 nominal speeds 33 1/3 and 45 (confirmed by ID3v2.4.0 TMED "TT/33", "TT/45"); 60/rpm computed.
        SidePlan plan = Plans.BlankGroove(1) with { Rpm = rpm, RunOutSeconds = (1.25 + 5.9) * turnSeconds, TicksPerMinute = 0 };
        Heard heard = new(plan);
        Assert.Equal(6, heard.Truth.ThumpFrames.Length);

        // Power of roughly 20 to 150 Hz (difference of two running means); each burst well above the groove counts at its maximum.
        double[] energy = Difference([.. heard.Mid().Select(x => (double)x)], heard.Rate / 150, heard.Rate / 40).Select(x => x * x).ToArray();
        int runOut = heard.FrameOf(heard.Truth.RunOutSeconds);
        double quiet = energy[(runOut - (heard.Rate / 2))..runOut].Max();
        List<int> found = [];
        for (int i = runOut; i < energy.Length; i++)
        {
            if (energy[i] > 3 * quiet)
            {
                int end = Math.Min(energy.Length, i + (heard.Rate / 4));
                found.Add(Enumerable.Range(i, end - i).MaxBy(at => energy[at]));
                i = end;
            }
        }

        Assert.Equal(6, found.Count);
        for (int i = 1; i < found.Count; i++)
        {
            Assert.InRange((found[i] - found[i - 1]) / (double)heard.Rate, turnSeconds - 0.003, turnSeconds + 0.003);
        }

        Assert.InRange((heard.Truth.ThumpFrames[^1] - heard.Truth.ThumpFrames[0]) / (5.0 * heard.Rate), turnSeconds - 1e-5, turnSeconds + 1e-5);
    }

    [Fact]
    public void Closed_groove_repeats_itself()
    {
        SidePlan plan = Plans.BlankGroove(1) with { RunOutSeconds = 8, ArmResonanceOverNoiseDb = -40, ElectronicsNoiseDbfs = -110 };
        Heard heard = new(plan);
        int first = (int)heard.Truth.ThumpFrames[1] + (heard.Rate / 2), second = (int)heard.Truth.ThumpFrames[2] + (heard.Rate / 2);
        double same = 0, power = 0, other = 0;
        for (int i = 0; i < heard.Rate; i++)
        {
            power += heard.Left[first + i] * heard.Left[first + i];
            same += heard.Left[first + i] * heard.Left[second + i];
            other += heard.Left[first + i] * heard.Left[second + i + 200];
        }

        Assert.InRange(same / power, 0.9, 1.1);
        Assert.InRange(other / power, -0.3, 0.3);
    }

    [Fact]
    public void Ticks_come_at_the_planned_rate_where_and_as_large_as_the_truth_says()
    {
        SidePlan plan = Plans.BlankGroove(40) with { TicksPerMinute = 60, GrooveNoiseDbfs = -75 };
        Heard heard = new(plan);
        TrueTick[] free = heard.Truth.Ticks.Where(t => t.Frame > heard.Rate).ToArray();

        // 39 expected; three standard deviations of a Poisson count.
        Assert.InRange(free.Length, 20, 58);
        int alone = 0;
        for (int i = 1; i < free.Length - 1; i++)
        {
            TrueTick tick = free[i];
            if (free[i + 1].Frame - tick.Frame < heard.Rate / 20 || tick.Frame - free[i - 1].Frame < heard.Rate / 20)
            {
                continue;
            }

            // 1.5 ms around it, the slow surroundings taken off.
            alone++;
            int from = (int)tick.Frame;
            double peak = 0;
            foreach (float[] channel in new[] { heard.Left, heard.Right })
            {
                double ground = channel.AsSpan(from - 20, 20).ToArray().Average();
                peak = Math.Max(peak, channel.AsSpan(from, heard.Rate * 3 / 2000).ToArray().Max(x => Math.Abs(x - ground)));
            }

            Assert.InRange(20 * Math.Log10(peak), tick.PeakDbfs - 2.5, tick.PeakDbfs + 2.5);
        }

        Assert.True(alone > 10);
    }

    [Fact]
    public void Quiet_beginning_is_quiet_and_audible_start_says_when_it_comes_out_of_the_noise()
    {
        SidePlan plan = Plans.TwoShortTracks() with
        {
            TicksPerMinute = 0,
            GrooveNoiseDbfs = -55,
            Tracks = [new TrackPlan { Seconds = 12, Character = TrackCharacter.Swell, QuietIntroSeconds = 4 }],
        };
        Heard heard = new(plan);
        TrueTrack track = heard.Truth.Tracks[0];
        int start = (int)track.MusicStartFrame, audible = (int)track.AudibleStartFrame;
        Assert.InRange((audible - start) / (double)heard.Rate, 0.05, 6);
        double before = Heard.RmsDbfs(heard.Left.AsSpan(start, 3 * heard.Rate));
        double after = Heard.RmsDbfs(heard.Left.AsSpan(start + (7 * heard.Rate), 3 * heard.Rate));
        Assert.True(after > before + 12, $"beginning {before:f1} dBFS, later {after:f1} dBFS");
    }

    [Fact]
    public void Composed_pause_falls_to_the_groove()
    {
        TrackPlan track = new() { Seconds = 14, Character = TrackCharacter.Lively, PauseAtSeconds = 5, PauseSeconds = 3.5 };
        Heard heard = new(Plans.TwoShortTracks() with { TicksPerMinute = 0, Tracks = [track] });
        int start = (int)heard.Truth.Tracks[0].MusicStartFrame;
        double pause = heard.BandDbfs(heard.Left, start + (int)(7.4 * heard.Rate), start + (int)(8.4 * heard.Rate));
        double before = heard.BandDbfs(heard.Left, start + (3 * heard.Rate), start + (5 * heard.Rate));
        double after = heard.BandDbfs(heard.Left, start + (9 * heard.Rate), start + (11 * heard.Rate));
        Assert.InRange(pause, -63.5, -58);
        Assert.True(before > pause + 20 && after > pause + 20);
    }

    private static double Subsonic(Heard heard, int from, int to) =>
        10 * Math.Log10((2 * Heard.BandPower(Heard.Spectrum(heard.Left.AsSpan(from, to - from), 32768), heard.Rate, 5, 36)) + 1e-30);

    /// <summary>Running mean over a short time less running mean over a long one.</summary>
    private static double[] Difference(double[] samples, int brief, int lasting)
    {
        double[] sums = new double[samples.Length + 1];
        for (int i = 0; i < samples.Length; i++)
        {
            sums[i + 1] = sums[i] + samples[i];
        }

        double[] result = new double[samples.Length];
        for (int i = lasting; i < samples.Length - lasting; i++)
        {
            result[i] = ((sums[i + brief] - sums[i]) / brief) - ((sums[i + lasting] - sums[i - lasting]) / (2.0 * lasting));
        }

        return result;
    }
}
