using System.Globalization;
using Station.Audio.Division;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Audio.Synthesis;

namespace Station.Benchmarks;

/// <summary>
/// How often the stylus detector is right on synthesised captures drawn at random: sides that were never left (every stretch found inside them
/// is a false alarm), two sides in one file, and a stylus lifted and set down again. Half of the phono stages filter rumble.
/// </summary>
internal static class StylusCampaign
{
    private const int RateHz = 22_050;
    private const double BorderSeconds = 1;

    public static int Run(string[] arguments)
    {
        int count = arguments.Length > 0 ? int.Parse(arguments[0], CultureInfo.InvariantCulture) : 40;
        int seed = arguments.Length > 1 ? int.Parse(arguments[1], CultureInfo.InvariantCulture) : 1;
        foreach (Kind kind in Enum.GetValues<Kind>())
        {
            foreach (bool filtered in new[] { false, true })
            {
                Tell(kind, filtered, [.. ParallelEnumerable.Range(0, count).AsOrdered().WithDegreeOfParallelism(2).Select(i => Try(kind, filtered, (seed * 1000) + i))]);
            }
        }

        return 0;
    }

    private static void Tell(Kind kind, bool filtered, Outcome[] outcomes)
    {
        double[] errors = [.. outcomes.Where(o => o.Found && o.ErrorSeconds is not null).Select(o => o.ErrorSeconds!.Value).Order()];
        string border = errors.Length == 0
            ? ""
            : string.Create(CultureInfo.InvariantCulture, $"; borders off by {errors[errors.Length / 2]:0.00} s (median), {errors[^1]:0.00} s (worst)");
        Console.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"{kind,-10} {(filtered ? "rumble filter" : "no filter"),-13} found {outcomes.Count(o => o.Found)} of {outcomes.Count(o => o.Present)}, false alarms {outcomes.Count(o => o.False)} of {outcomes.Length}{border}"));
        foreach (Outcome wrong in outcomes.Where(o => o.False || (o.Present && !o.Found)))
        {
            Console.WriteLine($"    {(wrong.False ? "false " : "missed")} {wrong.Says}");
        }
    }

    private static Outcome Try(Kind kind, bool filtered, int seed)
    {
        var random = new Random(seed);
        double filter = filtered ? 20 + (random.NextDouble() * 40) : 0;
        double noise = -70 + (random.NextDouble() * 22);
        double electronics = Math.Min(noise - 8, -95 + (random.NextDouble() * 20));
        SidePlan first = Side(random, seed, filter, noise, electronics, trimmed: kind == Kind.Whole && random.Next(3) == 0);
        double up = 4 + (random.NextDouble() * 26);
        SidePlan[] plans = kind switch
        {
            Kind.TwoSides => [first with { PostRollSeconds = up / 2 }, Side(random, seed + 500_000, filter, noise, electronics, false) with { PreRollSeconds = up / 2, Hum = first.Hum }],
            Kind.Lift => [first with { Lifts = [new LiftPlan(LiftAt(first, random), 4 + (random.NextDouble() * 12))] }],
            _ => [first],
        };
        var capture = new SynthesisedCapture(plans);
        LevelEnvelope envelope = Envelope(capture);
        StylusReading reading = StylusDetector.Find(envelope, new StylusSettings());
        StylusUp[] inside = [.. reading.Stretches.Where(s => s.FirstStep > 0 && s.EndStep < envelope.Steps)];
        (double From, double To)? truth = kind switch
        {
            Kind.TwoSides => (capture.Sides[0].Truth.LiftSeconds, (capture.FirstFrames[1] / (double)RateHz) + capture.Sides[1].Truth.NeedleDownSeconds),
            Kind.Lift => (plans[0].Lifts[0].AtSeconds, plans[0].Lifts[0].AtSeconds + plans[0].Lifts[0].Seconds),
            _ => null,
        };

        // Pre-roll and post-roll beyond the side's own ends are up, too, when knocks cut them off from the file's ends.
        double begin = capture.Sides[0].Truth.NeedleDownSeconds;
        double end = (capture.FirstFrames[^1] / (double)RateHz) + capture.Sides[^1].Truth.LiftSeconds;
        StylusUp[] within = [.. inside.Where(s => Seconds(s.EndStep) > begin + BorderSeconds && Seconds(s.FirstStep) < end - BorderSeconds)];
        StylusUp? hit = truth is { } t ? within.FirstOrDefault(s => Seconds(s.FirstStep) < t.To && Seconds(s.EndStep) > t.From) : null;
        double? error = hit is null ? null : Math.Max(Math.Abs(Seconds(hit.FirstStep) - truth!.Value.From), Math.Abs(Seconds(hit.EndStep) - truth.Value.To));
        string says = string.Create(
            CultureInfo.InvariantCulture,
            $"seed {seed}: noise {noise:0.0}, electronics {electronics:0.0}, filter {filter:0}, cue {reading.Cue}, levels {reading.UpLevelDb:0.0} {reading.GrooveLevelDb:0.0}, subsonics {reading.UpSubsonicDb:0.0} {reading.GrooveSubsonicDb:0.0}, truth {truth?.From:0.0}-{truth?.To:0.0}, found {string.Join(' ', inside.Select(s => $"{Seconds(s.FirstStep):0.0}-{Seconds(s.EndStep):0.0}"))}");
        return new Outcome(truth is not null, hit is not null && error <= BorderSeconds, within.Any(s => s != hit), error, says);

        static double Seconds(int step) => step * (double)StepLength.Frames(RateHz) / RateHz;
    }

    private static double LiftAt(SidePlan plan, Random random)
    {
        double music = plan.PreRollSeconds + plan.LeadInSeconds;
        return music + (plan.Tracks[0].Seconds * (0.2 + (0.5 * random.NextDouble())));
    }

    private static SidePlan Side(Random random, int seed, double filter, double noise, double electronics, bool trimmed) => new()
    {
        Seed = seed,
        SampleRateHz = RateHz,
        Tracks =
        [
            .. Enumerable.Range(0, 2 + random.Next(2)).Select(_ => new TrackPlan
            {
                Seconds = 22 + (random.NextDouble() * 20),
                Character = (TrackCharacter)random.Next(Enum.GetValues<TrackCharacter>().Length),
                FadeOutSeconds = random.Next(3) == 0 ? 8 : 0,
                QuietIntroSeconds = random.Next(3) == 0 ? 6 : 0,
                LevelDb = -12 * random.NextDouble(),
                PauseAtSeconds = 9,
                PauseSeconds = random.Next(3) == 0 ? 3.5 : 0,
                GapAfterSeconds = 1.5 + (random.NextDouble() * 4.5),
            }),
        ],
        PreRollSeconds = trimmed ? 0 : 0.3 + (random.NextDouble() * 3),
        LeadInSeconds = trimmed ? 0 : 1.5 + (random.NextDouble() * 6),
        RunOutSeconds = trimmed ? 0 : 4 + (random.NextDouble() * 20),
        PostRollSeconds = trimmed ? 0 : random.NextDouble() * 5,
        GrooveNoiseDbfs = noise,
        NoiseDriftDb = -3 + (random.NextDouble() * 6),
        RumbleFilterHz = filter,
        TicksPerMinute = random.NextDouble() * 80,
        ElectronicsNoiseDbfs = electronics,
        PeakDbfs = -16 + (random.NextDouble() * 12),
        Hum = random.Next(4) == 0 ? new HumPlan(50, electronics + 20) : null,
    };

    private static LevelEnvelope Envelope(SynthesisedCapture capture)
    {
        var format = new CaptureFormat
        {
            Container = "wav",
            Words = WordFormat.Int16,
            SampleRateHz = RateHz,
            BitsPerSample = 16,
            Channels = 2,
            Frames = capture.Frames,
        };
        var meters = new SideMeters(format, new MeterSettings());
        float[] samples = new float[8192];
        byte[] words = new byte[2 * samples.Length];
        long frame = 0;
        foreach (SynthesisedSide side in capture.Sides)
        {
            for (int read = side.Read(samples); read > 0; read = side.Read(samples))
            {
                meters.Add(new CaptureBlock(frame, 2, words.AsSpan(0, 2 * read), samples.AsSpan(0, read)));
                frame += read / 2;
            }
        }

        return meters.Finish().Envelope;
    }

    private enum Kind
    {
        /// <summary>The stylus stays in the groove from drop to lift.</summary>
        Whole,

        TwoSides,

        Lift,
    }

    private sealed record Outcome(bool Present, bool Found, bool False, double? ErrorSeconds, string Says);
}
