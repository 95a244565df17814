using System.Diagnostics;
using System.Globalization;
using Station.Audio.Division;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Audio.Synthesis;

namespace Station.Benchmarks;

/// <summary>How long the division of a side takes once its envelope is there, and how much room the envelope takes.</summary>
internal static class DivisionBenchmark
{
    private const int RateHz = 44_100;
    private const int BlockFrames = 4096;

    /// <param name="arguments">Minutes of the side (default 22), runs (default 7).</param>
    public static int Run(string[] arguments)
    {
        double minutes = arguments.Length > 0 ? double.Parse(arguments[0], CultureInfo.InvariantCulture) : 22;
        int runs = arguments.Length > 1 ? int.Parse(arguments[1], CultureInfo.InvariantCulture) : 7;
        SidePlan full = SidePlan.Demo('A', DemoLength.FullSide);
        double stretch = minutes * 60 / full.TotalSeconds;
        SidePlan plan = full with { SampleRateHz = RateHz, Tracks = [.. full.Tracks.Select(track => track with { Seconds = track.Seconds * stretch })] };
        LevelEnvelope envelope = Measure(plan);
        using var written = new MemoryStream();
        envelope.Write(written);
        int count = plan.Tracks.Length;
        (string Says, DivisionGuide Guide)[] guides =
        [
            ("without a sheet", DivisionGuide.None),
            ("with a count", new DivisionGuide(count, [])),
            ("with count and lengths", new DivisionGuide(count, [.. plan.Tracks.Select(track => (double?)Math.Round(track.Seconds))])),
            ("as 99 tracks of like length", new DivisionGuide(99, [.. Enumerable.Repeat((double?)(minutes * 60 / 99), 99)])),
        ];
        Console.WriteLine(string.Create(
            CultureInfo.InvariantCulture, $"{(double)envelope.TotalFrames / RateHz / 60:0.0} minutes of stereo at {RateHz} Hz: the envelope has {written.Length / 1_048_576.0:0.00} MiB; medians of {runs} runs, least and most"));
        Console.WriteLine("| division | wall ms | CPU ms | MB allocated |\n|---|---|---|---|");
        Row("parting where the stylus was lifted", runs, () => CaptureParting.Of(envelope, new DivisionSettings()));
        foreach ((string says, DivisionGuide guide) in guides)
        {
            Row(says, runs, () => SideDivider.Divide(envelope, new DivisionSettings(), guide));
        }

        return 0;
    }

    private static void Row(string says, int runs, Func<object> once)
    {
        once();
        List<(double Wall, double Cpu, double Megabytes)> all = [];
        using var self = Process.GetCurrentProcess();
        for (int run = 0; run < runs; run++)
        {
            self.Refresh();
            (TimeSpan cpu, long start, long bytes) = (self.TotalProcessorTime, Stopwatch.GetTimestamp(), GC.GetTotalAllocatedBytes(precise: true));
            GC.KeepAlive(once());
            TimeSpan wall = Stopwatch.GetElapsedTime(start);
            self.Refresh();
            all.Add((wall.TotalMilliseconds, (self.TotalProcessorTime - cpu).TotalMilliseconds, (GC.GetTotalAllocatedBytes(precise: true) - bytes) / 1e6));
        }

        double[] wallMs = [.. all.Select(one => one.Wall).Order()];
        double[] cpuMs = [.. all.Select(one => one.Cpu).Order()];
        Console.WriteLine(string.Create(
            CultureInfo.InvariantCulture,
            $"| {says} | {wallMs[runs / 2]:0} ({wallMs[0]:0} to {wallMs[^1]:0}) | {cpuMs[runs / 2]:0} ({cpuMs[0]:0} to {cpuMs[^1]:0}) | {all[^1].Megabytes:0.0} |"));
    }

    private static LevelEnvelope Measure(SidePlan plan)
    {
        var side = new SynthesisedSide(plan);
        var format = new CaptureFormat { Container = "wav", Words = WordFormat.Float32, SampleRateHz = RateHz, BitsPerSample = 32, Channels = 2, Frames = side.Truth.Frames };
        SideMeters meters = SideMeters.OfLevels(format, new MeterSettings());
        float[] samples = new float[2 * BlockFrames];
        byte[] words = new byte[samples.Length * sizeof(float)];
        long frame = 0;
        for (int count = side.Read(samples); count > 0; count = side.Read(samples))
        {
            meters.Add(new CaptureBlock(frame, 2, words.AsSpan(0, count * sizeof(float)), samples.AsSpan(0, count)));
            frame += count / 2;
        }

        return meters.Finish().Envelope;
    }
}
