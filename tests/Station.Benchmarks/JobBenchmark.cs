using System.Collections.Immutable;
using System.Globalization;
using Station.Audio.Synthesis;

namespace Station.Benchmarks;

/// <summary>
/// The whole job (<c>stationd process</c>: inspect, divide, archive with read-back and rebuild, encode, publish) against the bare
/// codecs that any such job must run on the same file: hash, master, test of the master, decode of the master, FLAC and MP3 of the music.
/// </summary>
internal static class JobBenchmark
{
    public static int Run(string[] arguments)
    {
        double minutes = arguments.Length > 0 ? double.Parse(arguments[0], CultureInfo.InvariantCulture) : 22;
        int runs = arguments.Length > 1 ? int.Parse(arguments[1], CultureInfo.InvariantCulture) : 3;
        string folder = Directory.CreateTempSubdirectory("station-bench-").FullName;
        try
        {
            string stationd = Path.Combine(AppContext.BaseDirectory, "stationd");
            Console.WriteLine(FormattableString.Invariant($"{Environment.ProcessorCount} cores, {minutes} minutes a side, medians of {runs} runs"));
            Console.WriteLine("| side | | wall s | CPU s | peak MiB |");
            Console.WriteLine("|---|---|---|---|---|");
            foreach ((int rate, int bits) in new[] { (44_100, 16), (96_000, 24) })
            {
                One(stationd, folder, minutes, rate, bits, runs);
            }

            return 0;
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    /// <summary>Writes a whole side of so many minutes as a WAV.</summary>
    public static void WriteSide(string wav, double minutes, int rateHz, int bits)
    {
        SidePlan full = SidePlan.Demo('A', DemoLength.FullSide);
        double scale = minutes / 22;
        SidePlan plan = full with
        {
            SampleRateHz = rateHz,
            BitsPerSample = bits,
            Tracks = [.. full.Tracks.Select(t => t with { Seconds = t.Seconds * scale, QuietIntroSeconds = 0, FadeOutSeconds = t.FadeOutSeconds * scale })],
        };
        using FileStream file = File.Create(wav);
        new SynthesisedSide(plan).WriteWav(file);
    }

    private static void One(string stationd, string folder, double minutes, int rate, int bits, int runs)
    {
        string wav = Path.Combine(folder, "BM-0001-A.wav");
        WriteSide(wav, minutes, rate, bits);
        string name = FormattableString.Invariant($"{rate / 1000.0}/{bits}");
        var jobs = new List<Usage>();
        var bare = new List<ImmutableArray<(string Step, Usage Usage)>>();
        for (int run = 0; run < runs; run++)
        {
            string output = Path.Combine(folder, "out");
            jobs.Add(ChildMeasure.Of(stationd, "process", wav, "--out", output));
            Delete(output);
            bare.Add(Bare(wav, folder));
        }

        Usage job = Usage.Median(jobs);
        Row(name, "whole job", job);
        for (int step = 0; step < bare[0].Length; step++)
        {
            Row("", bare[0][step].Step, Usage.Median([.. bare.Select(b => b[step].Usage)]));
        }

        Usage sum = Usage.Median([.. bare.Select(b => new Usage(b.Sum(s => s.Usage.WallSeconds), b.Sum(s => s.Usage.CpuSeconds), b.Max(s => s.Usage.PeakMebibytes)))]);
        Row("", "bare codecs, one after the other", sum);
        Console.WriteLine(FormattableString.Invariant(
            $"| | **whole job ÷ bare codecs** | **{job.WallSeconds / sum.WallSeconds:0.00}** | **{job.CpuSeconds / sum.CpuSeconds:0.00}** | |"));
        File.Delete(wav);
    }

    private static ImmutableArray<(string Step, Usage Usage)> Bare(string wav, string folder)
    {
        string master = Path.Combine(folder, "master.flac");
        string listening = Path.Combine(folder, "listening.flac");
        string mp3 = Path.Combine(folder, "listening.mp3");
        string raw = Path.Combine(folder, "decoded.raw");
        ImmutableArray<(string Step, Usage Usage)> steps =
        [
            ("sha256sum of the capture", ChildMeasure.Of("sha256sum", wav)),
            ("flac -5, the master", ChildMeasure.Of("flac", "-s", "-f", "-5", "-o", master, wav)),
            ("flac -t", ChildMeasure.Of("flac", "-s", "-t", master)),
            ("flac -d", ChildMeasure.Of("flac", "-s", "-f", "-d", "--force-raw-format", "--endian=little", "--sign=signed", "-o", raw, master)),
            ("flac -5, the music", ChildMeasure.Of("flac", "-s", "-f", "-5", "-o", listening, wav)),
            ("lame -V0, the music", ChildMeasure.Of("lame", "--quiet", "--noreplaygain", "-V0", wav, mp3)),
        ];
        foreach (string file in new[] { master, listening, mp3, raw })
        {
            File.Delete(file);
        }

        return steps;
    }

    private static void Row(string side, string what, Usage usage) => Console.WriteLine(FormattableString.Invariant(
        $"| {side} | {what} | {usage.WallSeconds:0.0} | {usage.CpuSeconds:0.0} | {usage.PeakMebibytes:0} |"));

    /// <summary>Bags are read-only; a folder must be writable before its entries can be removed.</summary>
    private static void Delete(string folder)
    {
        foreach (string inner in Directory.EnumerateDirectories(folder, "*", SearchOption.AllDirectories))
        {
            File.SetUnixFileMode(inner, UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute);
        }

        Directory.Delete(folder, recursive: true);
    }
}
