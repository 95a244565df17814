using Station.Audio.Meters;
using Xunit;

namespace Station.Audio.Tests.Meters;

public sealed class RevolutionTests
{
    private const double RateHz = 2756.25;     // 44.1 kHz by 16

    /// <summary>
    /// Seconds per revolution, computed as 60 / rpm. Nominal speeds: 33 1/3 and 45 from IEC 60098; 71.29, 76.59, 78.26 and 80 from the values TT/71, TT/76, TT/78,
    /// TT/80 of ID3v2.4.0's TMED; 77.92 from the AES-S001-064 data page.
    /// </summary>
    public static TheoryData<double, double> Speeds => new()
    {
        { 100.0 / 3, 1.800000 },
        { 45, 1.333333 },
        { 71.29, 0.841633 },
        { 76.59, 0.783392 },
        { 6000.0 / 77, 0.770000 },
        { 7200.0 / 92, 0.766667 },
        { 80, 0.750000 },
    };

    [Theory]
    [MemberData(nameof(Speeds))]
    public void The_surface_of_a_closed_groove_tells_the_turn(double rpm, double secondsPerRevolution)
    {
        Assert.Equal(secondsPerRevolution, 60 / rpm, 1e-6);
        float[] groove = Turning(secondsPerRevolution, 15, RateHz, freshDb: -6, seed: 3);
        RevolutionReading turn = Assert.IsType<RevolutionReading>(PeriodFinder.Find(groove, RateHz));
        Assert.InRange(100 * ((turn.Rpm / rpm) - 1), -0.01, 0.01);
        Assert.InRange(turn.Confidence, 0.5, 1);
    }

    [Theory]
    [MemberData(nameof(Speeds))]
    public void Knocks_alone_tell_the_turn(double rpm, double secondsPerRevolution)
    {
        float[] groove = TurnSignal.Noise(-62, 20, 2756, 5);
        for (double at = 0.4; at < 19.5; at += secondsPerRevolution)
        {
            TurnSignal.Knock(groove, at, -36, 2756);
        }

        RevolutionReading turn = Assert.IsType<RevolutionReading>(KnockFinder.Find(groove, 2756));
        Assert.InRange(100 * ((turn.Rpm / rpm) - 1), -0.05, 0.05);
    }

    [Theory]
    [MemberData(nameof(Speeds))]
    public void Thumps_at_exact_periods_are_recovered_to_a_hundredth_of_a_per_cent(double rpm, double secondsPerRevolution)
    {
        float[] groove = TurnSignal.Noise(-66, 20, 2756, 7);
        for (double at = 0.4; at < 19.5; at += secondsPerRevolution)
        {
            TurnSignal.Knock(groove, at, -26, 2756);
        }

        RevolutionReading turn = Assert.IsType<RevolutionReading>(PeriodFinder.Find(groove, 2756) ?? KnockFinder.Find(groove, 2756));
        Assert.InRange(100 * ((turn.Rpm / rpm) - 1), -0.01, 0.01);
    }

    [Fact]
    public void Noise_hum_and_silence_tell_nothing()
    {
        float[] noise = TurnSignal.Noise(-60, 30, 2756, 11);
        Assert.Null(PeriodFinder.Find(noise, 2756));
        Assert.Null(KnockFinder.Find(noise, 2756));
        float[] hum = TurnSignal.Noise(-75, 30, 2756, 12);
        for (int k = 1; k < 10; k++)
        {
            float[] tone = TestSignal.Sine(50 * k, TestSignal.Amplitude(-50 - k), 30, 2756);
            for (int i = 0; i < hum.Length; i++)
            {
                hum[i] += tone[i];
            }
        }

        Assert.Null(PeriodFinder.Find(hum, 2756));
        Assert.Null(KnockFinder.Find(hum, 2756));
        Assert.Null(PeriodFinder.Find(new float[60_000], 2756));
        Assert.Null(KnockFinder.Find(new float[60_000], 2756));
        Assert.Null(PeriodFinder.Find([], 2756));
        Assert.Null(KnockFinder.Find([], 2756));
    }

    [Theory]
    [InlineData(44_100, 2)]
    [InlineData(192_000, 2)]
    [InlineData(8_000, 1)]
    [InlineData(48_000, 1)]
    public void A_whole_side_tells_its_turn_at_any_rate(int rateHz, int channels)
    {
        SideReading reading = TestSignal.Read(Side(rateHz, channels), channels, rateHz);
        RevolutionReading turn = Assert.IsType<RevolutionReading>(reading.Disc.Revolution);
        Assert.InRange(turn.PeriodSeconds, 1.35 * 0.9999, 1.35 * 1.0001);
    }

    [Fact]
    public void Readings_do_not_depend_on_the_portions()
    {
        float[] side = Side(44_100, 2);
        DiscReading a = TestSignal.Read(side, 2, 44_100, blockFrames: 4096).Disc;
        DiscReading b = TestSignal.Read(side, 2, 44_100, blockFrames: 777).Disc;
        Assert.Equal(a.Revolution, b.Revolution);
        Assert.Equal(a.Sway, b.Sway);
        Assert.Equal(a.TickRates, b.TickRates);
        Assert.Equal(a.Ticks.Ticks.AsEnumerable(), b.Ticks.Ticks.AsEnumerable());
        Assert.Equal(a.Scratches.AsEnumerable(), b.Scratches.AsEnumerable());
    }

    [Theory]
    [InlineData(0)]
    [InlineData(1)]
    [InlineData(700)]
    [InlineData(100_000)]
    public void Silence_tones_and_short_captures_tell_nothing(int frames)
    {
        foreach (int rateHz in (int[])[8_000, 44_100, 192_000])
        {
            foreach (float[] samples in (float[][])[new float[2 * frames], TestSignal.Both(TestSignal.Sine(997, 0.5, (double)frames / rateHz, rateHz))])
            {
                DiscReading turns = TestSignal.Read(samples, 2, rateHz).Disc;
                Assert.Null(turns.Revolution);
                Assert.Null(turns.Sway);
                Assert.Null(turns.TickRates?.GroovePerMinute);
                Assert.Empty(turns.Scratches);
                Assert.Empty(turns.Ticks.Ticks);
            }
        }
    }

    [Fact]
    public void Stretches_of_any_length_and_kind_are_no_exception()
    {
        var random = new Random(31);
        for (int i = 0; i < 300; i++)
        {
            float[] stretch = TurnSignal.Noise(-60, random.NextDouble() * 12, 2756, i);
            double period = 0.3 + (3 * random.NextDouble());
            for (double at = 0; i % 3 > 0 && at < stretch.Length / 2756.0; at += period)
            {
                TurnSignal.Knock(stretch, at, i % 3 == 1 ? -20 : -45, 2756);
            }

            if (KnockFinder.Find(stretch, 2756) is { } knock)
            {
                Assert.InRange(knock.PeriodSeconds, 0.5, 2.2);
            }

            if (PeriodFinder.Find(stretch, 2756) is { } repeat)
            {
                Assert.InRange(repeat.PeriodSeconds, 0.5, 4.1);
            }
        }
    }

    [Fact]
    public void A_full_scale_square_wave_and_floats_of_24_dB_above_it_are_no_fault_of_the_meters()
    {
        float[] square = [.. Enumerable.Range(0, 400_000).Select(i => (i / 50) % 2 == 0 ? 16f : -16f)];
        DiscReading turns = TestSignal.Read(square, 2, 44_100, bits: 32, words: Station.Audio.Reading.WordFormat.Float32).Disc;
        Assert.Null(turns.Revolution);
    }

    // Noise that comes back each turn, with some that does not.
    private static float[] Turning(double turnSeconds, double seconds, double rateHz, double freshDb, int seed)
    {
        // Made at eight times the rate, where a turn's rounding is an eighth of a sample's.
        int fine = (int)Math.Round(8 * rateHz);
        float[] once = TurnSignal.Noise(-60, turnSeconds + 0.1, fine, seed);
        float[] fresh = TurnSignal.Noise(-60 + freshDb, seconds, (int)rateHz, seed + 1);
        float[] turning = new float[(int)(seconds * rateHz)];
        for (int i = 0; i < turning.Length; i++)
        {
            double at = i / rateHz % turnSeconds * fine;
            double mean = 0;
            for (int k = 0; k < 8; k++)
            {
                mean += once[(int)at + k] / 8;
            }

            turning[i] = (float)(mean + (0.3 * fresh[Math.Min(i, fresh.Length - 1)]));
        }

        return turning;
    }

    // Lead-in, 40 s of chords, a run-out at 44.44 rev/min; the stylus is lifted at the end.
    private static float[] Side(int rateHz, int channels)
    {
        const double Turn = 1.35;
        float[] music = TurnSignal.Chords(40, rateHz, Turn, 0);
        float[] once = TurnSignal.Noise(-58, Turn + 0.01, rateHz, 21);
        float[] fresh = TurnSignal.Noise(-64, 64, rateHz, 22);
        float[] left = new float[64 * rateHz];
        for (int i = 0; i < left.Length; i++)
        {
            double t = (double)i / rateHz;
            float groove = t is < 1 or > 63 ? 0 : t < 46 ? fresh[i] * 2 : once[(int)Math.Round((t - 46) % Turn * rateHz)] + (0.3f * fresh[i]);
            left[i] = groove + (1e-5f * fresh[i] / 0.0006f) + (t >= 4 && t < 44 ? music[(int)((t - 4) * rateHz)] : 0);
        }

        return channels == 2 ? TestSignal.Both(left) : left;
    }
}
