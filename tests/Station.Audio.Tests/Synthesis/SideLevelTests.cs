using Station.Audio.Synthesis;
using Xunit;

namespace Station.Audio.Tests.Synthesis;

public sealed class SideLevelTests
{
    [Theory]
    [InlineData(-8, 16, TrackCharacter.Chamber)]
    [InlineData(-3, 24, TrackCharacter.Lively)]
    [InlineData(-0.8, 16, TrackCharacter.Ballad)]
    [InlineData(-20, 24, TrackCharacter.Swell)]
    public void Programme_peak_is_the_planned_one(double peakDbfs, int bits, TrackCharacter character)
    {
        SidePlan plan = Plans.TwoShortTracks() with
        {
            PeakDbfs = peakDbfs,
            BitsPerSample = bits,
            TicksPerMinute = 0,
            GrooveNoiseDbfs = -70,
            NeedleDropDbfs = -40,
            Tracks = [new TrackPlan { Seconds = 6, Character = character }, new TrackPlan { Seconds = 4, LevelDb = -6 }],
        };
        Heard heard = new(plan);
        (int from, int to) = ((int)heard.Truth.Tracks[0].MusicStartFrame, (int)heard.Truth.Tracks[0].SilenceFrame);
        double left = Heard.PeakDbfs(heard.Left.AsSpan(from, to - from)), right = Heard.PeakDbfs(heard.Right.AsSpan(from, to - from));
        Assert.InRange(Math.Max(left, right), peakDbfs - 0.5, peakDbfs + 0.5);
        Assert.Equal(peakDbfs, heard.Truth.Tracks[0].PeakDbfs, 1e-3);
        Assert.Equal(peakDbfs - 6, heard.Truth.Tracks[1].PeakDbfs, 1e-3);
        Assert.Equal([0, 0], heard.Truth.ClippedSamples.AsEnumerable());
    }

    [Fact]
    public void Converter_clips_exactly_the_samples_the_truth_lists()
    {
        var side = new SynthesisedSide(Plans.TwoShortTracks() with { OverdriveDb = 5 });
        byte[] file = Wav.BytesOf(side);
        List<TrueClipRun> found = [];
        for (int channel = 0; channel < 2; channel++)
        {
            short[] codes = Wav.Codes16(file, channel);
            long clipped = codes.LongCount(code => code is short.MaxValue or short.MinValue);
            Assert.True(clipped > 100);
            Assert.Equal(clipped, side.Truth.ClippedSamples[channel]);
            for (int i = 0; i < codes.Length;)
            {
                int run = i;
                while (run < codes.Length && codes[run] == codes[i])
                {
                    run++;
                }

                if (codes[i] is short.MaxValue or short.MinValue)
                {
                    found.Add(new TrueClipRun((SideChannel)channel, i, run - i, codes[i] > 0));
                }

                i = run;
            }

            TrueFault fault = Assert.Single(side.Truth.Faults, f => f.Kind == TrueFaultKind.ConverterClip && f.Channel == (SideChannel)channel);
            TrueClipRun first = found.First(run => run.Channel == (SideChannel)channel), last = found[^1];
            Assert.Equal(first.FirstFrame, fault.FirstFrame);
            Assert.Equal(last.FirstFrame + last.Frames, fault.FirstFrame + fault.Frames);
            Assert.Equal(clipped, fault.Count);
            Assert.Equal(found.Count(run => run.Channel == (SideChannel)channel), side.Truth.ClipRunCount[channel]);
        }

        // The louder channel of the loudest track would have reached 5 dB above full scale (with the groove noise on top).
        Assert.InRange(side.Truth.Faults.Max(f => f.Strength), 4.8, 5.4);
        Assert.Equal(
            found.OrderBy(run => run.Channel).ThenBy(run => run.FirstFrame),
            side.Truth.ClipRuns.OrderBy(run => run.Channel).ThenBy(run => run.FirstFrame));
    }

    [Fact]
    public void Overdriven_samples_read_as_floats_stop_at_the_full_scale_codes()
    {
        Heard heard = new(Plans.TwoShortTracks() with { OverdriveDb = 5, RunOutSeconds = 1 });
        Assert.Equal(32767f / 32768f, heard.Left.Max());
        Assert.Equal(-1f, heard.Left.Min());
        Assert.Equal(heard.Truth.ClippedSamples[0], heard.Left.LongCount(x => x is 32767f / 32768f or -1f));
    }

    [Fact]
    public void Hum_has_its_level_and_its_harmonics()
    {
        SidePlan plan = Plans.BlankGroove(0.5) with { PreRollSeconds = 10, Hum = new HumPlan(50, -42) };
        Heard heard = new(plan);
        double power = 0;
        double fundamental = 0;
        for (int harmonic = 1; harmonic <= 6; harmonic++)
        {
            double level = Tone(heard.Left.AsSpan(0, 10 * heard.Rate), 50 * harmonic, heard.Rate);
            fundamental = harmonic == 1 ? level : fundamental;
            Assert.True(level <= fundamental);
            power += level;
        }

        Assert.InRange(10 * Math.Log10(2 * power), -42.2, -41.8);
        Assert.InRange(20 * Math.Log10(Rms(heard.Right.AsSpan(0, 10 * heard.Rate)) / Rms(heard.Left.AsSpan(0, 10 * heard.Rate))), -2.2, -1.8);
        TrueFault fault = Assert.Single(heard.Truth.Faults);
        Assert.Equal((TrueFaultKind.Hum, (SideChannel?)null, -42), (fault.Kind, fault.Channel, fault.Strength));
    }

    [Fact]
    public void Dead_channel_carries_only_the_electronics()
    {
        Heard heard = new(Plans.TwoShortTracks() with { DeadChannel = SideChannel.Right, BitsPerSample = 24 });
        Assert.InRange(Heard.RmsDbfs(heard.Right), -88.5, -87.5);
        Assert.True(Heard.RmsDbfs(heard.Left) > -40);
        Assert.Equal(SideChannel.Right, Assert.Single(heard.Truth.Faults, f => f.Kind == TrueFaultKind.DeadChannel).Channel);
    }

    [Fact]
    public void Reversed_channel_turns_the_bass_against_itself()
    {
        Heard right = new(Plans.TwoShortTracks());
        Heard wrong = new(Plans.TwoShortTracks() with { ReversedChannel = SideChannel.Left });

        // Bass lies in the middle of the stereo picture: in phase when wired rightly (IEC 60098:2020 §6.2.2, confirmed in an excerpt).
        Assert.True(BassCorrelation(right) > 0.7);
        Assert.True(BassCorrelation(wrong) < -0.7);
        Assert.Equal(SideChannel.Left, Assert.Single(wrong.Truth.Faults, f => f.Kind == TrueFaultKind.ReversedPolarity).Channel);
    }

    [Fact]
    public void Mono_disc_has_the_same_music_in_both_channels_and_stereo_noise()
    {
        Heard heard = new(Plans.TwoShortTracks() with { MonoDisc = true, TicksPerMinute = 0 });
        (int from, int to) = ((int)heard.Truth.Tracks[0].MusicStartFrame, (int)heard.Truth.Tracks[0].MusicEndFrame);
        double side = heard.BandDbfs(heard.Side(), from, to);
        Assert.InRange(side, -65, -60);
        Assert.True(heard.BandDbfs(heard.Mid(), from, to) > side + 20);
    }

    [Fact]
    public void Rumble_filter_takes_the_arm_resonance_away()
    {
        Heard plain = new(Plans.BlankGroove(8));
        Heard filtered = new(Plans.BlankGroove(8) with { RumbleFilterHz = 40 });
        double before = Heard.RmsDbfs(plain.Left.AsSpan(2 * plain.Rate, 6 * plain.Rate));
        double after = Heard.RmsDbfs(filtered.Left.AsSpan(2 * plain.Rate, 6 * plain.Rate));
        Assert.True(before > after + 6);
        Assert.InRange(
            plain.BandDbfs(plain.Left, 2 * plain.Rate, 8 * plain.Rate) - filtered.BandDbfs(filtered.Left, 2 * plain.Rate, 8 * plain.Rate), -0.1, 0.1);
    }

    private static double BassCorrelation(Heard heard)
    {
        // Running sums are a low-pass; over 8 ms the first zero lies at 125 Hz.
        int width = heard.Rate / 125;
        double left = 0, right = 0, both = 0, leftPower = 0, rightPower = 0;
        for (int i = (int)heard.Truth.Tracks[0].MusicStartFrame; i < (int)heard.Truth.Tracks[0].MusicEndFrame; i++)
        {
            left += heard.Left[i] - heard.Left[i - width];
            right += heard.Right[i] - heard.Right[i - width];
            both += left * right;
            leftPower += left * left;
            rightPower += right * right;
        }

        return both / Math.Sqrt(leftPower * rightPower);
    }

    private static double Rms(ReadOnlySpan<float> samples) => Math.Pow(10, Heard.RmsDbfs(samples) / 20);

    /// <summary>Mean square of one steady tone over a whole number of its periods.</summary>
    private static double Tone(ReadOnlySpan<float> samples, double hz, int rate)
    {
        double re = 0, im = 0;
        for (int i = 0; i < samples.Length; i++)
        {
            (double sin, double cos) = Math.SinCos(2 * Math.PI * hz * i / rate);
            re += samples[i] * cos;
            im += samples[i] * sin;
        }

        return 2 * ((re * re) + (im * im)) / ((double)samples.Length * samples.Length);
    }
}
