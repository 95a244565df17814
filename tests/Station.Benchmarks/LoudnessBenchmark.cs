using System.Globalization;
using Station.Audio.Encoding;
using Station.Audio.Meters;
using Station.Audio.Reading;
using Station.Reference;

namespace Station.Benchmarks;

/// <summary>
/// All our meters on one file against what a general-purpose loudness library and a general-purpose codec suite take for loudness, true peak and level
/// statistics alone: each a process of its own that reads the file itself, in turn, several times, in one run.
/// </summary>
internal static class LoudnessBenchmark
{
    /// <summary>The measuring processes this one starts.</summary>
    public const string OnceName = "loudness-once";

    public static int Run(string[] arguments)
    {
        int minutes = arguments.Length > 0 ? int.Parse(arguments[0], CultureInfo.InvariantCulture) : 22;
        int runs = arguments.Length > 1 ? int.Parse(arguments[1], CultureInfo.InvariantCulture) : 3;
        string folder = Directory.CreateTempSubdirectory("station-loudness").FullName;
        try
        {
            Console.WriteLine($"{Environment.ProcessorCount} cores, {minutes} minutes a side, medians of {runs} runs");
            Console.WriteLine("| side | | wall s | CPU s | × real time, per core |");
            Console.WriteLine("|---|---|---|---|---|");
            foreach ((int rateHz, int bits) in new[] { (44_100, 16), (96_000, 24) })
            {
                string file = Path.Combine(folder, $"side-{rateHz}.wav");
                JobBenchmark.WriteSide(file, minutes, rateHz, bits);
                Compare(file, FormattableString.Invariant($"{rateHz / 1000.0}/{bits}"), 60.0 * minutes, runs);
                File.Delete(file);
            }

            return 0;
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    /// <summary>One measurement of one kind, for a process of its own.</summary>
    public static int Once(string kind, string file)
    {
        using FileStream stream = File.OpenRead(file);
        CaptureOpening opening = CaptureReader.Open(stream.SafeFileHandle, Path.GetFileName(file), new ReaderLimits(), CodecTools.FromPath(), static _ => { });
        using CaptureReader reader = opening.Reader ?? throw new InvalidOperationException(opening.Refusal!.ToString());
        if (string.Equals(kind, "ours", StringComparison.Ordinal))
        {
            var meters = new SideMeters(reader.Format, new MeterSettings());
            for (CaptureBlock block = reader.Read(); !block.IsEmpty; block = reader.Read())
            {
                meters.Add(block);
            }

            SideReading reading = meters.Finish();
            Audio.Findings.SideJudge.Judge(reading, reader.Repairs, new Audio.Findings.InspectionLimits());
            Console.WriteLine($"{reading.LoudnessLufs} {reading.TruePeakDbtp.Max()}");
            return 0;
        }

        using ReferenceLoudness reference = new(reader.Format.Channels, reader.Format.SampleRateHz);
        for (CaptureBlock block = reader.Read(); !block.IsEmpty; block = reader.Read())
        {
            reference.Add(block.Samples);
        }

        Console.WriteLine($"{reference.Integrated} {reference.Range} {reference.TruePeak(0)} {reference.TruePeak(1)}");
        return 0;
    }

    private static void Compare(string file, string side, double seconds, int runs)
    {
        string self = Environment.ProcessPath!;
        (string Name, string[] Command)[] ways =
        [
            ("all our meters and the judge", [self, OnceName, "ours", file]),
            ("library: loudness, range, true peak", [self, OnceName, "library", file]),
            ("codec suite: loudness, true peak, statistics", ["ffmpeg", "-v", "error", "-nostdin", "-threads", "1", "-i", file, "-af", "ebur128=peak=true,astats,silencedetect", "-f", "null", "-"]),
        ];
        List<Usage>[] usages = [.. ways.Select(_ => new List<Usage>())];
        for (int run = 0; run < runs; run++)
        {
            for (int way = 0; way < ways.Length; way++)
            {
                usages[way].Add(ChildMeasure.Of(ways[way].Command));
            }
        }

        Usage[] medians = [.. usages.Select(Usage.Median)];
        for (int way = 0; way < ways.Length; way++)
        {
            Console.WriteLine(string.Create(CultureInfo.InvariantCulture, $"| {(way == 0 ? side : "")} | {ways[way].Name} | {medians[way].WallSeconds:0.00} | {medians[way].CpuSeconds:0.00} | {seconds / medians[way].CpuSeconds:0} |"));
        }

        for (int way = 1; way < ways.Length; way++)
        {
            Console.WriteLine(string.Create(
                CultureInfo.InvariantCulture,
                $"| | **ours ÷ {ways[way].Name.Split(':')[0]}** | **{medians[0].WallSeconds / medians[way].WallSeconds:0.00}** | **{medians[0].CpuSeconds / medians[way].CpuSeconds:0.00}** | |"));
        }
    }
}
