using Station.Audio.Meters;
using Station.Audio.Synthesis;
using Xunit;

namespace Station.Audio.Tests.Meters;

/// <remarks>Expected figures are computed from what each signal was made of; dB are re a full-scale sine (AES17's reference, second-hand).</remarks>
public sealed class NoiseMeterTests
{
    [Theory]
    [InlineData(8_000, 1)]
    [InlineData(22_050, 2)]
    [InlineData(44_100, 1)]
    [InlineData(44_100, 2)]
    [InlineData(96_000, 2)]
    [InlineData(192_000, 2)]
    public void A_tone_reads_its_own_level_weighted_and_not(int rateHz, int channels)
    {
        NoiseReading reading = new NoiseSide(rateHz, channels, 4).Tone(1000, -40).Groove(0.5, 3.5).Read();
        Assert.Equal(channels, reading.NoiseFloorDbfs.Length);
        Assert.All(reading.NoiseFloorDbfs, db => Assert.Equal(-40, db!.Value, 0.1));
        Assert.Equal(-40, reading.NoiseFloorDba!.Value, 0.1);
    }

    [Theory]
    [InlineData(10_000, -2.5)]      // IEC 61672-1, from memory
    [InlineData(4_000, 1.0)]
    [InlineData(500, -3.2)]
    public void Weighting_is_applied_at_the_tones_frequency(double hz, double weightDb)
    {
        NoiseReading reading = new NoiseSide(48_000, 2, 4).Tone(hz, -40).Groove(0.5, 3.5).Read();
        Assert.Equal(-40 + weightDb, reading.NoiseFloorDba!.Value, 0.3);
        Assert.Equal(-40, reading.NoiseFloorDbfs[0]!.Value, 0.2);
    }

    [Fact]
    public void White_noise_reads_its_power_in_the_band_and_ticks_do_not_count()
    {
        // From 200 Hz to 20 kHz white noise of 24 kHz has 19.8 ÷ 24 of its power.
        double expected = -50 + (10 * Math.Log10(19.8 / 24));
        NoiseSide side = new NoiseSide(48_000, 2, 20).Noise(1, -50).Groove(1, 19);
        Assert.Equal(expected, side.Read().NoiseFloorDbfs[0]!.Value, 0.2);
        var random = new Random(2);
        for (int tick = 0; tick < 120; tick++)
        {
            double at = 19 * random.NextDouble();
            side.Add(at, at + 0.0005, _ => 0.3 * ((2 * random.NextDouble()) - 1));
        }

        Assert.Equal(expected, side.Read().NoiseFloorDbfs[0]!.Value, 0.5);
    }

    [Theory]
    [InlineData(44_100)]
    [InlineData(8_000)]
    public void Rumble_is_what_lies_between_15_and_100_hertz_but_for_mains(int rateHz)
    {
        // What the left-out lines would hold of even noise is made up for, which raises a tone by 1 dB (computed: 58 lines for 46).
        Assert.Equal(-39, Rumble(30), 0.3);
        Assert.Equal(-39, Rumble(80), 0.3);
        Assert.InRange(Rumble(50), -200, -65);      // hum, but for what a Hann window spreads beyond its lines (−30 dB measured)
        Assert.InRange(Rumble(9), -200, -65);       // arm resonance; a Hann window's third side lobe reaches to 15 Hz
        Assert.InRange(Rumble(400), -200, -90);
        Assert.InRange(Rumble(3400), -200, -70);

        double Rumble(double hz) => new NoiseSide(rateHz, 2, 8).Tone(hz, -40).Groove(1, 7).Read().RumbleDbfs ?? -200;
    }

    [Fact]
    public void Music_overtones_that_fold_do_not_make_rumble_of_themselves()
    {
        // 6,270 Hz lies 30 Hz off the first stage's rate at 44.1 kHz: lowered by 46 dB (computed: a mean of seven).
        NoiseReading reading = new NoiseSide(44_100, 2, 8).Tone(6270, -40).Groove(1, 7).Read();
        Assert.InRange(reading.RumbleDbfs!.Value, -200, -80);
    }

    [Fact]
    public void Electronics_after_the_lift_taken_for_groove_are_not_measured()
    {
        NoiseSide side = new NoiseSide(44_100, 2, 40).Noise(1, -90).Noise(2, -60, 0, 30).Tone(10, -50, 0, 30).Tone(440, -20, 5, 25).Tone(30, -55, 0, 30)
            .Music(5, 25).Groove(1, 4, GroovePlace.LeadIn).Groove(32, 39, GroovePlace.RunOut);
        Assert.Equal(-60, side.Read().NoiseFloorDbfs[0]!.Value, 1.0);
        Assert.Equal(-54, side.Read().RumbleDbfs!.Value, 1.0);
    }

    [Theory]
    [InlineData(55, true)]      // the arm resonates to 55 s: a run-out without hiss
    [InlineData(40, false)]     // to 40 s, where the outline has the lift
    [InlineData(60, false)]     // to the end, so that nothing tells groove from the chain's own unrest
    public void A_run_out_whose_hiss_has_gone_is_known_by_the_arm(double arm, bool seen)
    {
        // In the run-out one pole at 1.6 kHz takes the hiss away.
        NoiseSide side = new NoiseSide(48_000, 1, 60).Noise(1, -90).Noise(2, -50, 0, 39).Tone(10, -40, 0, arm).Needle(0, 40)
            .Music(5, 12).Music(16, 28).Music(31, 37).Groove(1, 4, GroovePlace.LeadIn).Groove(13, 15).Groove(29, 31);
        var random = new Random(3);
        double y = 0;
        side.Add(39, arm, _ => y += 0.19 * ((TestSignal.Amplitude(-50) * Math.Sqrt(1.5) * ((2 * random.NextDouble()) - 1)) - y));
        Assert.Equal(seen, side.Read().Treble!.ChangeDb < -6);
    }

    [Theory]
    [InlineData(0, 0)]
    [InlineData(1, 1)]
    [InlineData(2, 2)]
    public void The_slope_of_even_noise_counts_how_often_the_curve_was_applied(int times, double slope)
    {
        const int Rate = 96_000;
        NoiseSide side = new NoiseSide(Rate, 1, 12).Noise(3, -20).Groove(1, 11);
        var curve = new ReplayCurve(Rate);
        for (int i = 0; i < times; i++)
        {
            ReplayCurve.State state = default;
            curve.Apply(side.Samples, ref state);
        }

        CurveEvidence evidence = side.Read().Curve!;
        Assert.Equal(slope, evidence.HissSlope!.Value, 0.1);
        Assert.Equal(slope, evidence.GrooveSlope!.Value, 0.1);
        Assert.Null(evidence.MusicSlope);
        Assert.Null(evidence.LeastGrooveSlope);
    }

    [Fact]
    public void Treble_that_the_electronics_cover_still_says_how_dull_the_groove_is_at_least()
    {
        // White noise through the curve twice lies 26 dB below its own 1 kHz at 9.4 kHz (IEC 60098's constants, computed); electronics 15 dB below 1 kHz cover it. Even then
        // the bound must lie above what the curve once, which nothing covers, gives.
        const int Rate = 96_000;
        NoiseSide side = new NoiseSide(Rate, 1, 14).Noise(3, -20, 2, 12).Groove(3, 11).Needle(2, 12);
        var curve = new ReplayCurve(Rate);
        for (int i = 0; i < 2; i++)
        {
            ReplayCurve.State state = default;
            curve.Apply(side.Samples, ref state);
        }

        CurveEvidence evidence = side.Noise(4, -35).Read().Curve!;
        Assert.InRange(evidence.LeastGrooveSlope!.Value, 1.3, 2);
        Assert.InRange(evidence.GrooveSlope!.Value, 1.8, 2.2);
    }

    [Fact]
    public void Noise_that_swishes_once_per_turn_reads_its_mean_power()
    {
        // A tenth of each turn of 1.8 s is 12 dB louder: mean power is 0.9 + 0.1 · 10^1.2 = 2.485 of the rest's, 3.95 dB (computed). A tone, for it has one level by itself.
        NoiseSide side = new NoiseSide(48_000, 2, 60);
        side.Add(0, 60, i => TestSignal.Amplitude((i / 48_000.0 % 1.8) < 0.18 ? -48 : -60) * Math.Sin(2 * Math.PI * 1000 * i / 48_000));
        Assert.Equal(-60 + 3.95, side.Groove(1, 55).Read().NoiseFloorDba!.Value, 0.3);
    }

    [Fact]
    public void Soft_music_that_was_taken_for_groove_does_not_raise_the_noise()
    {
        NoiseSide side = new NoiseSide(48_000, 2, 60).Noise(5, -60).Tone(1000, -50, 20, 23).Groove(1, 8, GroovePlace.LeadIn).Groove(20, 23).Groove(50, 58, GroovePlace.RunOut);
        Assert.Equal(new NoiseSide(48_000, 2, 60).Noise(5, -60).Groove(1, 8).Read().NoiseFloorDba!.Value, side.Read().NoiseFloorDba!.Value, 0.3);
    }

    [Fact]
    public void One_odd_stretch_between_others_does_not_hide_the_loss_of_treble()
    {
        // As above, 12 dB at 10 kHz; the second gap has a hiss of its own.
        const int Rate = 96_000;
        NoiseSide side = new NoiseSide(Rate, 1, 100).Noise(4, -30).Needle(0, 100)
            .Groove(1, 5, GroovePlace.LeadIn).Groove(30, 34).Groove(60, 61).Groove(75, 79).Groove(90, 99, GroovePlace.RunOut).Music(5, 30).Music(34, 60).Music(61, 75).Music(79, 90);
        double y = 0;
        for (int i = 0; i < side.Samples.Length; i++)
        {
            double loss = Math.Pow(10, 12.0 * i / side.Samples.Length / 10);
            double corner = loss > 1 ? 10_000 / Math.Sqrt(loss - 1) : 1e9;
            y += (1 - Math.Exp(-2 * Math.PI * corner / Rate)) * (side.Samples[i] - y);
            side.Samples[i] = (float)y;
        }

        TrebleTrend trend = side.Tone(6800, -48, 60, 61).Tone(9300, -48, 60, 61).Tone(12_000, -48, 60, 61).Read().Treble!;
        Assert.Equal(4, trend.Stretches);
        Assert.Equal(-10, trend.ChangeDb, 1.5);
    }

    [Fact]
    public void Treble_that_goes_is_followed_from_landing_to_lift_and_steady_treble_is_not()
    {
        // White noise low-passed more and more: one pole whose loss at 10 kHz grows evenly to 12 dB. The band of 5.6 to 14 kHz against 0.4 to 1.6 kHz loses 10 dB with it
        // (computed: mean of the three bands' middles, less that of the two).
        Assert.Equal(-10, Trend(12).ChangeDb, 1.5);
        Assert.Equal(0, Trend(0).ChangeDb, 0.5);

        static TrebleTrend Trend(double lossDb)
        {
            const int Rate = 96_000;
            NoiseSide side = new NoiseSide(Rate, 1, 100).Noise(4, -30).Needle(0, 100)
                .Groove(1, 5, GroovePlace.LeadIn).Groove(30, 34).Groove(60, 64).Groove(90, 99, GroovePlace.RunOut).Music(5, 30).Music(34, 60).Music(64, 90);
            double y = 0;
            for (int i = 0; i < side.Samples.Length; i++)
            {
                double loss = Math.Pow(10, lossDb * i / side.Samples.Length / 10);
                double corner = loss > 1 ? 10_000 / Math.Sqrt(loss - 1) : 1e9;
                y += (1 - Math.Exp(-2 * Math.PI * corner / Rate)) * (side.Samples[i] - y);
                side.Samples[i] = (float)y;
            }

            return side.Read().Treble!;
        }
    }

    [Theory]
    [InlineData(1)]
    [InlineData(2)]
    public void Silence_offset_and_nothing_have_no_noise(int channels)
    {
        foreach (NoiseReading reading in new[]
        {
            new NoiseSide(48_000, channels, 5).Groove(1, 4).Read(),
            new NoiseSide(48_000, channels, 5).Add(0, 5, _ => 0.1).Groove(1, 4).Read(),
            new NoiseSide(48_000, channels, 0).Read(),
            new NoiseSide(48_000, channels, 5).Noise(1, -40).Read(),
        })
        {
            Assert.All(reading.NoiseFloorDbfs, Assert.Null);
            Assert.Null(reading.NoiseFloorDba);
            Assert.True(reading.RumbleDbfs is null or < -120);
            Assert.Null(reading.Hum);
            Assert.Null(reading.Treble);
            Assert.Null(reading.Curve);
        }
    }

    [Fact]
    public void The_reading_does_not_depend_on_the_blocks_it_comes_in()
    {
        NoiseSide side = new NoiseSide(44_100, 2, 60.013).Noise(1, -90).Noise(2, -60, 2, 57).Tone(12, -55, 2, 57).Hum(50.1, -55).Noise(3, -20, 6, 28).Noise(4, -20, 32, 50);
        NoiseReading one = TestSignal.Read(side.Samples, rateHz: 44_100).Noise;
        NoiseReading other = TestSignal.Read(side.Samples, rateHz: 44_100, blockFrames: 331).Noise;
        Assert.Equal(one.NoiseFloorDbfs, other.NoiseFloorDbfs);
        Assert.Equal(one.Hum!.LevelDbfs, other.Hum!.LevelDbfs);
        Assert.Equal(one.Hum.FundamentalHz, other.Hum.FundamentalHz);
        Assert.Equal((one.NoiseFloorDba, one.RumbleDbfs, one.Treble, one.Curve), (other.NoiseFloorDba, other.RumbleDbfs, other.Treble, other.Curve));
    }
}
