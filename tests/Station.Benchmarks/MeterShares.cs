using System.Globalization;
using Station.Audio.Identity;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Audio.Synthesis;

namespace Station.Benchmarks;

/// <summary>What each meter costs by itself, in seconds of CPU for 22 minutes of stereo: where the pass spends its time.</summary>
internal static class MeterShares
{
    private const int Seconds = 66;
    private const int Rounds = 5;
    private const double SideSeconds = 22 * 60;

    private delegate void Step(ReadOnlySpan<float> samples, long firstFrame, float peak);

    private delegate void PieceStep(ReadOnlySpan<float> samples, StepPieces pieces);

    public static int Run(string[] arguments)
    {
        int rateHz = arguments.Length > 0 ? int.Parse(arguments[0], CultureInfo.InvariantCulture) : 44_100;
        var side = new SynthesisedSide(SidePlan.Demo('A', DemoLength.Minutes) with { SampleRateHz = rateHz });
        float[] samples = new float[2 * Seconds * rateHz];
        side.Read(samples);
        for (int i = 0; i < samples.Length; i++)
        {
            samples[i] = MathF.Round(samples[i] * 32_768) / 32_768;
        }

        var format = new CaptureFormat { Container = "wav", Words = WordFormat.Int16, SampleRateHz = rateHz, BitsPerSample = 16, Channels = 2, Frames = samples.Length / 2 };
        int expected = Seconds * StepLength.StepsPerSecond;
        (string Name, Func<Step> Make)[] meters =
        [
            ("loudness, band, sums", () => { var filter = new StepFilter(rateHz, 2); return (step, _, _) => filter.Run(step); }),
            ("sums of pieces, subsonics", () => { var meter = new SubsonicMeter(rateHz); return WithPieces((_, pieces) => meter.Add(pieces)); }),
            ("clipping at full scale", () => Both(channel => new ClipMeter(channel, new MeterSettings()), (meter, channel, step, frame, peak) => meter.Add(step, 2, frame, peak >= ClipMeter.LowestCeiling))),
            ("flat tops", () => Both(channel => new FlatTopMeter(channel, rateHz), (meter, channel, step, frame, _) => meter.Add(step, 2, frame, Pieces(step, channel)))),
            ("amplitudes", () => Both(channel => new AmplitudeMeter(channel, rateHz), (meter, channel, step, frame, peak) => meter.Add(step, 2))),
            ("true peak", () => Both(_ => new TruePeakMeter(), (meter, channel, step, frame, peak) => meter.Add(step, 2, channel, peak))),
            ("top band", () => { var meter = new TopBandMeter(2); return (step, _, _) => meter.Add(step); }),
            ("fingerprint", () => { var meter = new ProgrammeMeter(rateHz, 2, format.Frames); return (step, _, _) => meter.Add(step); }),
            ("wiring, with sums of pieces", () => { var meter = new WiringMeter(format, expected); return WithPieces((_, pieces) => meter.Add(pieces, 0)); }),
            ("noise, rumble, hum, with spectra", () =>
            {
                var spectra = new StepSpectra(rateHz, 2);
                var meter = new NoiseMeter(spectra, expected);
                return (step, _, _) => meter.Add(step, spectra.Add(step));
            }),
            ("course of bands, with spectra", () =>
            {
                var spectra = new StepSpectra(rateHz, 2);
                var meter = new EnvelopeBandMeter(spectra, expected);
                return (step, _, _) =>
                {
                    if (spectra.Add(step))
                    {
                        meter.AddUnit();
                    }
                };
            }),
            ("losses", () => { var meter = new LossMeter(rateHz, 2); return (step, _, _) => meter.Add(step); }),
            ("contacts", () => { var meter = new ContactMeter(rateHz); return (step, _, _) => meter.Add(step); }),
            ("ticks, partials, run-out and fingerprint", () =>
            {
                var programme = new ProgrammeMeter(rateHz, 2, format.Frames);
                var meter = new DiscMeter(rateHz, 2, programme.LowRateHz, expected);
                return (step, _, _) => meter.Add(step, programme.Add(step));
            }),
            ("skips, with sums of pieces and fingerprint", () =>
            {
                var programme = new ProgrammeMeter(rateHz, 2, format.Frames);
                var meter = new Audio.Meters.Skips.SkipMeter(rateHz, programme.LowRateHz);
                return WithPieces((step, pieces) => meter.Add(pieces, programme.Add(step)));
            }),
            ("course of onsets, with fingerprint", () =>
            {
                var programme = new ProgrammeMeter(rateHz, 2, format.Frames);
                var meter = new Audio.Meters.Skips.OnsetCourse(programme.LowRateHz);
                return (step, _, _) => meter.Add(programme.Add(step));
            }),
            ("turns over each other", () => { var meter = new Audio.Meters.Turns.TurnMeter(rateHz, 2, format.Frames); return (step, _, _) => meter.Add(step); }),
        ];
        Console.WriteLine($"| {rateHz} Hz | CPU s for 22 minutes, least of {Rounds} | bytes allocated a minute, set-up included |");
        Console.WriteLine("|---|---|---|");
        foreach ((string name, Func<Step> make) in meters)
        {
            Row(name, () =>
            {
                Step meter = make();
                int length = 2 * StepLength.Frames(rateHz);
                for (int at = 0; at < samples.Length; at += length)
                {
                    ReadOnlySpan<float> step = samples.AsSpan(at, Math.Min(length, samples.Length - at));
                    (int left, int right) = SampleScan.MaxMagnitudeBits(step, 2);
                    meter(step, at / 2, BitConverter.Int32BitsToSingle(Math.Max(left, right)));
                }
            });
        }

        byte[] words = new byte[2 * 8192];
        SideMeters? all = null;
        Row("the whole pass", () =>
        {
            all = new SideMeters(format, new MeterSettings());
            for (int at = 0; at < samples.Length; at += 8192)
            {
                ReadOnlySpan<float> block = samples.AsSpan(at, Math.Min(8192, samples.Length - at));
                all.Add(new CaptureBlock(at / 2, 2, words.AsSpan(0, 2 * block.Length), block));
            }
        });
        return 0;

        void Row(string name, Action run)
        {
            double least = double.PositiveInfinity;
            long allocated = 0;
            for (int round = 0; round < Rounds; round++)
            {
                TimeSpan before = Environment.CpuUsage.TotalTime;
                long allocatedBefore = GC.GetAllocatedBytesForCurrentThread();
                run();
                allocated = GC.GetAllocatedBytesForCurrentThread() - allocatedBefore;
                least = Math.Min(least, (Environment.CpuUsage.TotalTime - before).TotalSeconds);
            }

            Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"| {name} | {least * SideSeconds / Seconds:0.00} | {allocated * 60 / Seconds:N0} |"));
        }
    }

    private static float[] Pieces(ReadOnlySpan<float> step, int channel)
    {
        float[] pieces = new float[ProgrammePeak.Pieces];
        int frames = step.Length / 2;
        for (int piece = 0; piece < pieces.Length; piece++)
        {
            (int left, int right) = SampleScan.MaxMagnitudeBits(step[(frames * piece / pieces.Length * 2)..(frames * (piece + 1) / pieces.Length * 2)], 2);
            pieces[piece] = BitConverter.Int32BitsToSingle(channel == 0 ? left : right);
        }

        return pieces;
    }

    private static Step WithPieces(PieceStep add)
    {
        var pieces = new StepPieces(2);
        return (step, _, _) =>
        {
            pieces.Take(step);
            add(step, pieces);
        };
    }

    private static Step Both<T>(Func<int, T> make, Action<T, int, ReadOnlySpan<float>, long, float> add)
    {
        T[] meters = [make(0), make(1)];
        return (step, frame, peak) =>
        {
            add(meters[0], 0, step, frame, peak);
            add(meters[1], 1, step, frame, peak);
        };
    }
}
