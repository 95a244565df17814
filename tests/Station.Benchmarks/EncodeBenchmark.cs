using System.Collections.Immutable;
using System.Globalization;
using Station.Audio.Encoding;
using Station.Daemon.Jobs;
using Station.Daemon.Listening;

namespace Station.Benchmarks;

/// <summary>
/// The encoding of a side's tracks from its master (decoded, measured for loudness, cut, FLAC and MP3 of each on all cores) against the bare encoders on the same tracks, each a command by itself, as many at once.
/// </summary>
internal static class EncodeBenchmark
{
    public const string OnceName = "encode-once";
    private const int Tracks = 6;
    private const int RateHz = 44_100;
    private const int BytesPerFrame = 4;
    private const int HeaderBytes = 44;

    public static int Run(string[] arguments)
    {
        double minutes = arguments.Length > 0 ? double.Parse(arguments[0], CultureInfo.InvariantCulture) : 22;
        int runs = arguments.Length > 1 ? int.Parse(arguments[1], CultureInfo.InvariantCulture) : 3;
        string folder = Directory.CreateTempSubdirectory("station-bench-").FullName;
        try
        {
            string wav = Path.Combine(folder, "side.wav");
            string master = Path.Combine(folder, "master.flac");
            JobBenchmark.WriteSide(wav, minutes, RateHz, 16);
            ChildMeasure.Of("flac", "-s", "-5", "-o", master, wav);
            byte[] samples = File.ReadAllBytes(wav)[HeaderBytes..];
            long frames = samples.Length / BytesPerFrame;
            string[] raws = [.. Cuts(frames).Select((cut, i) =>
            {
                string raw = Path.Combine(folder, $"{i}.raw");
                File.WriteAllBytes(raw, samples[(int)(cut.First * BytesPerFrame)..(int)(cut.End * BytesPerFrame)]);
                return raw;
            })];
            List<Usage> starts = [];
            List<Usage> ours = [];
            List<Usage> bare = [];
            for (int run = 0; run < runs; run++)
            {
                starts.Add(Ours(folder, master, Tracks));
                ours.Add(Ours(folder, master, frames));
                bare.Add(Bare(raws));
            }

            Usage stage = Usage.Median(ours);
            Usage sum = Usage.Median(bare);
            Usage start = Usage.Median(starts);
            Console.WriteLine(FormattableString.Invariant($"{Environment.ProcessorCount} cores, {minutes} minutes in {Tracks} tracks, 44.1/16, FLAC -5 and MP3 -V0, medians of {runs} runs"));
            Console.WriteLine(FormattableString.Invariant($"our encoding {stage.WallSeconds:0.0} s wall, {stage.CpuSeconds:0.0} s CPU, of which {start.CpuSeconds:0.0} s to start a process and compile (six tracks of one frame)"));
            Console.WriteLine(FormattableString.Invariant($"bare encoders, as many at once {sum.WallSeconds:0.0} s, {sum.CpuSeconds:0.0} s"));
            Console.WriteLine(FormattableString.Invariant($"ours without the start ÷ bare: {(stage.WallSeconds - start.WallSeconds) / sum.WallSeconds:0.00} wall, {(stage.CpuSeconds - start.CpuSeconds) / sum.CpuSeconds:0.00} CPU"));
            return 0;
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    private static Usage Ours(string folder, string master, long frames)
    {
        string output = Directory.CreateDirectory(Path.Combine(folder, "out")).FullName;
        Usage usage = ChildMeasure.Of(Environment.ProcessPath!, OnceName, master, output, frames.ToString(CultureInfo.InvariantCulture));
        Directory.Delete(output, recursive: true);
        return usage;
    }

    /// <summary>One encoding by our own stage's encoder, in a process of its own.</summary>
    public static int Once(string master, string output, string frames)
    {
        var codecs = CodecTools.FromPath();
        var encoder = new SideEncoder(new MasterDecoder(codecs), codecs, new ListeningOptions());
        ImmutableArray<DividedTrack> tracks =
            [.. Cuts(long.Parse(frames, CultureInfo.InvariantCulture)).Select((cut, i) => new DividedTrack("A", i + 1, null, cut.First, cut.End, 1))];
        return encoder.Encode([new PartSound(new MasterFile(master), tracks[^1].EndFrame)], tracks, output, Environment.ProcessorCount, CancellationToken.None).Length == Tracks ? 0 : 70;
    }

    private static IEnumerable<(long First, long End)> Cuts(long frames) => Enumerable.Range(0, Tracks).Select(i => (frames * i / Tracks, frames * (i + 1) / Tracks));

    /// <summary>As many commands at once as there are cores: two on the halves of one core take more CPU than one after the other, for the same work.</summary>
    private static Usage Bare(string[] raws) => ChildMeasure.Of(
    [
        "xargs", "-P", Environment.ProcessorCount.ToString(CultureInfo.InvariantCulture), "-n", "1", "-a", Commands(raws), "sh", "-c",
    ]);

    // One command a line, in the quotes that xargs takes off.
    private static string Commands(string[] raws)
    {
        string list = Path.Combine(Path.GetDirectoryName(raws[0])!, "commands");
        File.WriteAllLines(list, raws.SelectMany(raw => (IEnumerable<string>)
        [
            $"\"lame --silent --noreplaygain -r -s 44.1 --bitwidth 16 --signed --little-endian -V 0 {raw} {raw}.mp3\"",
            $"\"flac -s -f -5 --force-raw-format --endian=little --sign=signed --channels=2 --bps=16 --sample-rate=44100 -o {raw}.flac {raw}\"",
        ]));
        return list;
    }
}
