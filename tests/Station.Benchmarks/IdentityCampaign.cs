using System.Collections.Concurrent;
using System.Diagnostics;
using System.Globalization;
using Station.Audio.Identity;
using Station.Audio.Synthesis;

namespace Station.Benchmarks;

/// <summary>
/// Ground truth by synthesis: the same performance on another copy of the disc, in another state, at another speed must match; every other
/// performance, and grooves without music, must not. Exit code 1 when a copy within the promised tolerance was missed or a false match was found.
/// </summary>
internal static class IdentityCampaign
{
    private const double NominalTicks = 14;

    private static readonly Variant[] Variants =
    [
        new("another copy", p => p),
        new("18 dB softer", p => p with { PeakDbfs = -26, GrooveNoiseDbfs = -80, ElectronicsNoiseDbfs = -95 }),
        new("worn, noise at -48 dBFS", p => p with { GrooveNoiseDbfs = -48 }),
        new("crackle, 600 ticks a minute", p => p with { TicksPerMinute = 600, LargestTickDbfs = -6 }),
        new("hum at -40 dBFS", p => p with { Hum = new HumPlan(50, -40) }),
        new("clipped by 6 dB", p => p with { OverdriveDb = 6 }),
        new("96 kHz, one mono channel", p => p with { SampleRateHz = 96_000 }, Mono: true),
        new("begins 20 s in", p => p, SkipSeconds: 20),
        new("first 60 % only", p => p, Keep: 0.6),
        new("1 % fast", p => p, Speed: 1.01),
        new("1 % slow", p => p, Speed: 0.99),
        new("2 % fast", p => p, Speed: 1.02),
        new("2 % slow", p => p, Speed: 0.98),
        new("worn, crackle, hum, 1.5 % fast", p => p with { GrooveNoiseDbfs = -50, TicksPerMinute = 300, Hum = new HumPlan(50, -45) }, Speed: 1.015),
    ];

    public static int Run(string[] args)
    {
        int seeds = args.Length > 0 ? int.Parse(args[0], CultureInfo.InvariantCulture) : 40;
        (int Seed, char Side)[] sides = [.. Enumerable.Range(1, seeds).SelectMany(seed => new[] { (seed, 'A'), (seed, 'B') })];
        var prints = new ConcurrentDictionary<(int Seed, char Side), ProgrammeFingerprint>();
        var shares = new ConcurrentDictionary<string, ConcurrentBag<double>>(StringComparer.Ordinal);
        Parallel.ForEach(sides, side =>
        {
            SidePlan plan = SidePlan.Demo(side.Side, DemoLength.Minutes, side.Seed) with { MusicSeed = side.Seed, TicksPerMinute = NominalTicks };
            ProgrammeFingerprint print = Print(plan, new Variant("", p => p));
            prints[side] = print;
            Variant variant = Variants[((2 * side.Seed) + (side.Side - 'A')) % Variants.Length];
            foreach (Variant each in new[] { Variants[0], variant })
            {
                ProgrammeFingerprint other = Print(plan with { Seed = plan.Seed + 100_000, LeadInSeconds = 8.23, PreRollSeconds = 0.71 }, each);
                shares.GetOrAdd(each.Name, _ => []).Add(ProgrammeMatcher.Find(other, print)?.Share ?? 0);
            }
        });

        int missed = 0;
        foreach (Variant variant in Variants.Where(v => shares.ContainsKey(v.Name)))
        {
            double[] all = [.. shares[variant.Name].Order()];
            int hits = all.Count(s => s > 0);
            missed += all.Length - hits;
            Console.WriteLine($"{variant.Name,-34} {hits,4} of {all.Length,4} found; share of the music matched: least {all[0]:0.00}, median {all[all.Length / 2]:0.00}");
        }

        ProgrammeFingerprint[] blanks = [.. Enumerable.Range(1, seeds).AsParallel().Select(seed => Print(Blank(seed), new Variant("", p => p)))];
        ProgrammeFingerprint[] music = [.. sides.Select(s => prints[s])];
        int blankMatches = blanks.Sum(b => music.Count(m => ProgrammeMatcher.Find(b, m) is not null))
            + blanks.SelectMany((a, i) => blanks.Skip(i + 1).Select(b => (a, b))).Count(p => ProgrammeMatcher.Find(p.a, p.b) is not null);
        (int A, int B)[] pairs = [.. Enumerable.Range(0, music.Length).SelectMany(a => Enumerable.Range(a + 1, music.Length - a - 1).Select(b => (a, b)))];
        long started = Stopwatch.GetTimestamp();
        int falseMatches = pairs.Count(p => ProgrammeMatcher.Find(music[p.A], music[p.B]) is not null);
        double each1 = Stopwatch.GetElapsedTime(started).TotalMilliseconds / Math.Max(1, pairs.Length);
        Console.WriteLine($"different programmes: {falseMatches} of {pairs.Length} pairs matched; {each1:0.000} ms a pair of {music[0].Words.Length / 600.0:0.0} minutes");
        Console.WriteLine($"grooves without music: {blankMatches} matches among {blanks.Length} grooves and {music.Length} sides; music claimed {blanks.Max(b => b.MusicSeconds):0.0} s at most");
        Console.WriteLine($"longest fingerprint: {music.Max(m => m.ToBytes().Length)} bytes");
        Cost();
        return missed + falseMatches + blankMatches == 0 ? 0 : 1;
    }

    private static void Cost()
    {
        ProgrammeFingerprint[] full = [.. Enumerable.Range(0, 4).AsParallel().Select(n => Print(SidePlan.Demo(n % 2 == 0 ? 'A' : 'B', DemoLength.FullSide, 900 + n), new Variant("", p => p)))];
        long started = Stopwatch.GetTimestamp();
        for (int n = 0; n < 100; n++)
        {
            ProgrammeMatcher.Find(full[n % 4], full[(n + 1) % 4]);
        }

        Console.WriteLine($"full sides: {full[0].ToBytes().Length} bytes, {Stopwatch.GetElapsedTime(started).TotalMilliseconds / 100:0.00} ms to compare two different ones");
    }

    private static SidePlan Blank(int seed) => new()
    {
        Seed = seed,
        LeadInSeconds = 60,
        RunOutSeconds = 120,
        TicksPerMinute = 10 * (1 + (seed % 20)),
        GrooveNoiseDbfs = -45 - (seed % 25),
        RunOutThumpDbfs = -20 - (seed % 15),
        Hum = seed % 2 == 0 ? new HumPlan(50, -30 - (seed % 30)) : null,
    };

    private static ProgrammeFingerprint Print(SidePlan plan, Variant variant)
    {
        plan = variant.Change(plan);
        var side = new SynthesisedSide(plan);
        float[] samples = new float[checked((int)(2 * side.Truth.Frames))];
        for (int at = 0, count; at < samples.Length && (count = side.Read(samples.AsSpan(at))) > 0; at += count)
        {
            // All of it is wanted.
        }

        int skip = (int)(variant.SkipSeconds * plan.SampleRateHz) * 2;
        int end = (int)(samples.Length / 2 * variant.Keep) * 2;
        samples = variant.Speed == 1 ? samples[skip..end] : Faster(samples.AsSpan(skip..end), variant.Speed);
        if (variant.Mono)
        {
            samples = [.. Enumerable.Range(0, samples.Length / 2).Select(i => samples[2 * i])];
        }

        int channels = variant.Mono ? 1 : 2;
        var meter = new ProgrammeMeter(plan.SampleRateHz, channels, samples.Length / channels);
        int step = channels * plan.SampleRateHz / 50;
        for (int at = 0; at < samples.Length; at += step)
        {
            meter.Add(samples.AsSpan(at, Math.Min(step, samples.Length - at)));
        }

        return meter.Finish();
    }

    // Straight lines between frames: what that costs above 5 kHz is far outside the bands.
    private static float[] Faster(ReadOnlySpan<float> samples, double speed)
    {
        float[] result = new float[(int)((samples.Length / 2 - 1) / speed) * 2];
        for (int frame = 0; frame < result.Length / 2; frame++)
        {
            double place = frame * speed;
            int at = (int)place;
            float part = (float)(place - at);
            for (int channel = 0; channel < 2; channel++)
            {
                float from = samples[(2 * at) + channel];
                result[(2 * frame) + channel] = from + (part * (samples[(2 * (at + 1)) + channel] - from));
            }
        }

        return result;
    }

    private sealed record Variant(
        string Name, Func<SidePlan, SidePlan> Change, double Speed = 1, double SkipSeconds = 0, double Keep = 1, bool Mono = false);
}
