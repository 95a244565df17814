using System.Collections.Concurrent;
using System.Numerics;
using Station.Audio.Identity;
using Station.Audio.Meters;
using Station.Audio.Synthesis;
using Xunit;

namespace Station.Audio.Tests.Identity;

/// <summary>
/// Ground truth by synthesis: what is the same performance is known from the plan. The campaign over many seeds and states of the disc is
/// <c>Station.Benchmarks -- identity</c>.
/// </summary>
public sealed class ProgrammeTests
{
    private static readonly ConcurrentDictionary<(char Side, int Seed), Lazy<ProgrammeFingerprint>> Prints = new();

    [Theory]
    [InlineData('A', 1, 1.0)]
    [InlineData('B', 2, 1.015)]
    [InlineData('A', 3, 0.98)]
    public void The_same_performance_on_another_copy_is_found_and_placed(char side, int seed, double speed)
    {
        SidePlan plan = Plan(side, seed);
        SidePlan copy = plan with
        {
            Seed = plan.Seed + 1000,
            LeadInSeconds = plan.LeadInSeconds + 6,
            PeakDbfs = -20,
            GrooveNoiseDbfs = -55,
            TicksPerMinute = 200,
            Hum = new HumPlan(50, -50),
        };
        ProgrammeMatch match = ProgrammeMatcher.Find(Print(Faster(Render(copy), speed)), Original(side, seed))!.Value;
        Assert.InRange(match.Share, 0.8, 1);
        Assert.InRange(match.Speed, speed - 0.006, speed + 0.006);      // 0.1 s in each of two places over 30 s

        // A moment of one is the same moment of the other: lead-ins differ by 6 s, and time runs faster by the speed.
        Assert.InRange(match.StartSeconds - ((match.OtherStartSeconds + 6) / speed), -0.6, 0.6);
        ProgrammeMatch mirrored = ProgrammeMatcher.Find(Original(side, seed), Print(Faster(Render(copy), speed)))!.Value;
        Assert.InRange(mirrored.OtherStartSeconds - ((mirrored.StartSeconds + 6) / speed), -0.6, 0.6);
    }

    [Fact]
    public void Two_thirds_of_a_side_are_found_in_the_whole_and_a_third_is_not()
    {
        float[] whole = Render(Plan('A', 1) with { Seed = 77 });
        int frames = whole.Length / 2;
        Assert.NotNull(ProgrammeMatcher.Find(Print(whole[(frames / 3 * 2)..]), Original('A', 1)));
        Assert.Null(ProgrammeMatcher.Find(Print(whole[..(frames / 3 * 2)]), Original('B', 1)));
    }

    [Fact]
    public void Other_performances_by_the_same_instruments_are_not_found()
    {
        (char Side, int Seed)[] sides = [('A', 1), ('B', 1), ('A', 2), ('B', 2), ('A', 3), ('B', 3)];
        foreach ((char Side, int Seed) first in sides)
        {
            foreach ((char Side, int Seed) second in sides.Where(s => s != first))
            {
                Assert.Null(ProgrammeMatcher.Find(Original(first.Side, first.Seed), Original(second.Side, second.Seed)));
            }
        }

        Assert.Equal(1, ProgrammeMatcher.Find(Original('A', 1), Original('A', 1))!.Value.Share);
    }

    [Theory]
    [InlineData(-62, -32, null)]
    [InlineData(-45, -12, null)]
    [InlineData(-60, -30, -30.0)]
    public void A_groove_without_music_is_never_found_not_even_in_itself(double noiseDbfs, double thumpDbfs, double? humDbfs)
    {
        // A minute of groove and two of run-out: the closed groove's thumps come once a turn on every record.
        SidePlan blank = new()
        {
            LeadInSeconds = 60,
            RunOutSeconds = 120,
            GrooveNoiseDbfs = noiseDbfs,
            RunOutThumpDbfs = thumpDbfs,
            TicksPerMinute = 60,
            Hum = humDbfs is { } hum ? new HumPlan(50, hum) : null,
        };
        ProgrammeFingerprint first = Print(Render(blank));
        ProgrammeFingerprint second = Print(Render(blank with { Seed = 8, LeadInSeconds = 61.3 }));
        Assert.Null(ProgrammeMatcher.Find(first, second));
        Assert.Null(ProgrammeMatcher.Find(first, Original('A', 1)));
        Assert.Equal(0, Print(new float[2 * 30 * 44_100]).MusicSeconds);
        Assert.Null(ProgrammeMatcher.Find(Print(new float[2 * 30 * 44_100]), Print(new float[2 * 40 * 44_100])));
    }

    [Fact]
    public void Less_than_twenty_seconds_of_music_tell_nothing()
    {
        float[] side = Render(Plan('A', 1));
        ProgrammeFingerprint brief = Print(side[(2 * 44_100 * 4)..(2 * 44_100 * 22)]);
        Assert.InRange(brief.MusicSeconds, 5, ProgrammeMatcher.LeastSeconds);
        Assert.Null(ProgrammeMatcher.Find(brief, brief));
    }

    [Theory]
    [InlineData(1)]
    [InlineData(7)]
    [InlineData(2000)]
    public void Words_do_not_depend_on_the_portions_the_sound_comes_in(int frames)
    {
        float[] samples = Render(Plan('A', 1))[..(2 * 44_100 * 8)];
        Assert.Equal(Print(samples, portion: 882).ToBytes(), Print(samples, portion: frames).ToBytes());
    }

    [Fact]
    public void A_level_changed_by_a_power_of_two_changes_no_word()
    {
        // Exact in binary floating point (computed): every product is scaled without rounding.
        float[] samples = Render(Plan('A', 1))[..(2 * 44_100 * 8)];
        Assert.Equal(Print(samples).Words.ToArray(), Print([.. samples.Select(s => s * 0.25f)]).Words.ToArray());
    }

    [Fact]
    public void Words_follow_time_at_every_sample_rate()
    {
        ProgrammeFingerprint cd = Original('A', 1);
        foreach (int rate in new[] { 22_050, 48_000, 96_000 })
        {
            ProgrammeFingerprint other = Print(Render(Plan('A', 1) with { SampleRateHz = rate }), rate: rate);
            Assert.Equal(cd.Words.Length, other.Words.Length, tolerance: 1.0);
            Assert.InRange(DifferingBits(cd, other), 0, 0.15);      // measured: 0.05 to 0.08; chance gives 0.5
        }
    }

    [Fact]
    public void Neighbouring_bands_meet_at_minus_three_decibels()
    {
        // Half the power at the crossing: the usual meaning of a band's edge. Two equal sections in a row; bilinear design, so not quite exact.
        const double Rate = 5512.5;
        for (int band = 0; band < ProgrammeBands.Count; band++)
        {
            BiquadCoefficients section = ProgrammeBands.Section(band, Rate);
            Assert.Equal(0, 2 * section.GainDb(ProgrammeBands.CentreHz(band), Rate), tolerance: 1e-9);
            if (band + 1 < ProgrammeBands.Count)
            {
                double crossing = Math.Sqrt(ProgrammeBands.CentreHz(band) * ProgrammeBands.CentreHz(band + 1));
                Assert.InRange(2 * section.GainDb(crossing, Rate), -3.4, -2.7);
            }
        }
    }

    [Theory]
    [InlineData(44_100)]
    [InlineData(48_000)]
    [InlineData(96_000)]
    [InlineData(192_000)]
    [InlineData(22_050)]
    public void The_low_rate_keeps_the_bands_and_drops_what_would_fold_onto_them(int rate)
    {
        Assert.InRange(LevelDb(rate, 1_000), -0.1, 0.1);
        Assert.InRange(LevelDb(rate, 1_900), -0.3, 0.3);
        var decimator = new Decimator(rate, 1);
        Assert.InRange(LevelDb(rate, decimator.RateHz - 1_900), -200, -45);     // folds to 1,900 Hz; a Hamming window promises 53 dB (from memory)
    }

    [Fact]
    public void The_written_form_reads_back_and_any_damage_is_told()
    {
        ProgrammeFingerprint print = Original('A', 1);
        byte[] bytes = print.ToBytes();
        ProgrammeFingerprint back = ProgrammeFingerprint.Read(bytes);
        Assert.Equal(print.Words.ToArray(), back.Words.ToArray());
        Assert.Equal(print.MusicSeconds, back.MusicSeconds);
        for (int at = 0; at < bytes.Length; at += 97)
        {
            byte[] altered = [.. bytes];
            altered[at] ^= 0x10;
            Assert.Throws<InvalidDataException>(() => ProgrammeFingerprint.Read(altered));
        }

        for (int length = 0; length < bytes.Length; length += 131)
        {
            Assert.Throws<InvalidDataException>(() => ProgrammeFingerprint.Read(bytes.AsSpan(0, length)));
        }
    }

    private static SidePlan Plan(char side, int seed) => SidePlan.Demo(side, DemoLength.Seconds, seed) with { MusicSeed = (seed * 2) + side };

    private static ProgrammeFingerprint Original(char side, int seed) =>
        Prints.GetOrAdd((side, seed), key => new Lazy<ProgrammeFingerprint>(() => Print(Render(Plan(key.Side, key.Seed))))).Value;

    private static float[] Render(SidePlan plan)
    {
        var side = new SynthesisedSide(plan);
        float[] samples = new float[2 * side.Truth.Frames];
        for (int at = 0, count; at < samples.Length && (count = side.Read(samples.AsSpan(at))) > 0; at += count)
        {
            // All of it is wanted.
        }

        return samples;
    }

    // Straight lines between frames; what that costs lies far above the bands.
    private static float[] Faster(float[] samples, double speed)
    {
        float[] result = new float[(int)(((samples.Length / 2) - 1) / speed) * 2];
        for (int i = 0; i < result.Length; i++)
        {
            double place = i / 2 * speed;
            int at = (2 * (int)place) + (i & 1);
            result[i] = samples[at] + ((float)(place - Math.Floor(place)) * (samples[at + 2] - samples[at]));
        }

        return result;
    }

    private static ProgrammeFingerprint Print(float[] samples, int rate = 44_100, int portion = 441)
    {
        var meter = new ProgrammeMeter(rate, 2, samples.Length / 2);
        for (int at = 0; at < samples.Length; at += 2 * portion)
        {
            meter.Add(samples.AsSpan(at, Math.Min(2 * portion, samples.Length - at)));
        }

        return meter.Finish();
    }

    private static double DifferingBits(ProgrammeFingerprint a, ProgrammeFingerprint b)
    {
        int differing = 0, all = 0;
        for (int i = 40; i < Math.Min(a.Words.Length, b.Words.Length) - 100; i++)
        {
            if (a.MusicWords(i, 1) == 0)
            {
                continue;
            }

            differing += BitOperations.PopCount((uint)(a.Words[i] ^ b.Words[i]));
            all += ProgrammeFingerprint.BitsPerWord;
        }

        return (double)differing / all;
    }

    private static double LevelDb(int rate, double hz)
    {
        var decimator = new Decimator(rate, 1);
        float[] sine = [.. Enumerable.Range(0, rate / 20 * 10).Select(i => (float)Math.Sin(2 * Math.PI * hz * i / rate))];
        float[] low = new float[rate];
        int count = 0;
        for (int at = 0; at < sine.Length; at += rate / 20)
        {
            count += decimator.Run(sine.AsSpan(at, rate / 20), low.AsSpan(count));
        }

        double square = low.Skip(count / 4).Take(count / 2).Sum(x => (double)x * x) / (count / 2);
        return 10 * Math.Log10(2 * square);
    }
}
