using System.Globalization;
using System.Security.Cryptography;
using Microsoft.Win32.SafeHandles;
using Station.Audio.Encoding;
using Station.Audio.Reading;
using Station.Audio.Synthesis;

namespace Station.Benchmarks;

/// <summary>
/// What it costs to look at every frame of a FLAC before it is decoded: the capture reader against the same reading with the file
/// passed to the decoder as it is, against the decoder by itself, and the walk over the frames alone.
/// </summary>
internal static class FlacReadBenchmark
{
    /// <summary>The measured process.</summary>
    public const string OnceName = "flac-read-once";

    private const int BlockBytes = 64 * 1024;

    public static int Run(string[] arguments)
    {
        double minutes = arguments.Length > 0 ? double.Parse(arguments[0], CultureInfo.InvariantCulture) : 22;
        int runs = arguments.Length > 1 ? int.Parse(arguments[1], CultureInfo.InvariantCulture) : 3;
        string folder = Directory.CreateTempSubdirectory("station-bench-").FullName;
        try
        {
            Console.WriteLine(FormattableString.Invariant($"{Environment.ProcessorCount} cores, {minutes} minutes a side, medians of {runs} runs"));
            Console.WriteLine("| FLAC | | wall s | CPU s | peak MiB |");
            Console.WriteLine("|---|---|---|---|---|");
            foreach ((int rate, int bits) in new[] { (44_100, 16), (96_000, 24) })
            {
                One(folder, minutes, rate, bits, runs);
            }

            return 0;
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }

    /// <summary>One reading in one way.</summary>
    public static int Once(string way, string path)
    {
        CodecTools codecs = CodecTools.FromPath();
        using SafeFileHandle file = File.OpenHandle(path);
        switch (way)
        {
            case "reader":
                using (CaptureReader reader = CaptureReader.Open(file, path, new ReaderLimits(), codecs).Reader!)
                {
                    while (!reader.Read().IsEmpty)
                    {
                        // Reading is all.
                    }

                    return reader.Repairs.Count == 0 ? 0 : throw new InvalidDataException(reader.Repairs[0].Message);
                }

            case "passed on":
                PassOn(file, codecs);
                return 0;
            case "walk":
                byte[] head = new byte[8 + FlacStreamInfo.ContentBytes];
                FileBytes.ReadExactly(file, 0, head);
                var window = new FlacWindow(file, RandomAccess.GetLength(file), path, sink: null, CancellationToken.None);
                new FlacWalker(window, FlacStreamInfo.Parse(head.AsSpan(8)), head.Length, lastBlock: false, _ => { }, _ => { }, CancellationToken.None).Run();
                return 0;
            default:
                return 64;
        }
    }

    /// <summary>What a reader does that trusts the file: a thread that feeds the decoder, MD5 and float32 of what comes out.</summary>
    private static void PassOn(SafeFileHandle file, CodecTools codecs)
    {
        using ChildProcess child = ChildProcess.Start(
            CodecProgram.Flac, codecs.Flac, ["-d", "-c", "-s", "--force-raw-format", "--endian=little", "--sign=signed", "-"], claimOutput: true);
        var pump = new Thread(() =>
        {
            byte[] block = new byte[BlockBytes];
            long offset = 0;
            for (int got = FileBytes.ReadUpTo(file, offset, block); got > 0; got = FileBytes.ReadUpTo(file, offset, block))
            {
                child.Write(block.AsSpan(0, got));
                offset += got;
            }

            child.CloseInput();
        });
        pump.Start();
        byte[] head = new byte[8 + FlacStreamInfo.ContentBytes];
        FileBytes.ReadExactly(file, 0, head);
        var info = FlacStreamInfo.Parse(head.AsSpan(8));
        WordFormat format = info.BitsPerSample == 16 ? WordFormat.Int16 : WordFormat.Int24;
        byte[] words = new byte[CaptureReader.MaxBlockFrames * info.Channels * info.BitsPerSample / 8];
        float[] samples = new float[CaptureReader.MaxBlockFrames * info.Channels];
        using var md5 = IncrementalHash.CreateHash(HashAlgorithmName.MD5);
        for (int got = child.Output.ReadAtLeast(words, words.Length, throwOnEndOfStream: false); got > 0; got = child.Output.ReadAtLeast(words, words.Length, throwOnEndOfStream: false))
        {
            md5.AppendData(words.AsSpan(0, got));
            WordConversion.ToFloats(words.AsSpan(0, got), format, samples.AsSpan(0, got / (info.BitsPerSample / 8)));
        }

        pump.Join();
        if (child.WaitForExit() != 0 || !string.Equals(Convert.ToHexStringLower(md5.GetHashAndReset()), info.Md5, StringComparison.Ordinal))
        {
            throw new InvalidDataException("The file did not decode.");
        }
    }

    private static void One(string folder, double minutes, int rate, int bits, int runs)
    {
        string wav = Path.Combine(folder, "side.wav");
        string flac = Path.Combine(folder, "side.flac");
        SidePlan full = SidePlan.Demo('A', DemoLength.FullSide);
        double scale = minutes / 22;
        SidePlan plan = full with
        {
            SampleRateHz = rate,
            BitsPerSample = bits,
            Tracks = [.. full.Tracks.Select(t => t with { Seconds = t.Seconds * scale, QuietIntroSeconds = 0, FadeOutSeconds = t.FadeOutSeconds * scale })],
        };
        using (FileStream file = File.Create(wav))
        {
            new SynthesisedSide(plan).WriteWav(file);
        }

        ChildMeasure.Of("flac", "-s", "-f", "-o", flac, wav);
        File.Delete(wav);
        string name = FormattableString.Invariant($"{rate / 1000.0}/{bits}");
        (string Way, string[] Command)[] ways =
        [
            ("flac -d, into nothing", ["flac", "-s", "-f", "-d", "-o", "/dev/null", flac]),
            ("passed to the decoder as it is", [Environment.ProcessPath!, OnceName, "passed on", flac]),
            ("the capture reader", [Environment.ProcessPath!, OnceName, "reader", flac]),
            ("the walk alone", [Environment.ProcessPath!, OnceName, "walk", flac]),
        ];
        var used = ways.Select(_ => new List<Usage>()).ToArray();
        for (int run = 0; run < runs; run++)
        {
            for (int way = 0; way < ways.Length; way++)
            {
                used[way].Add(ChildMeasure.Of(ways[way].Command)); // in turn, so that a busy minute of the machine hits all alike
            }
        }

        Usage[] medians = [.. used.Select(Usage.Median)];
        for (int way = 0; way < ways.Length; way++)
        {
            Console.WriteLine(FormattableString.Invariant(
                $"| {(way == 0 ? name : "")} | {ways[way].Way} | {medians[way].WallSeconds:0.00} | {medians[way].CpuSeconds:0.00} | {medians[way].PeakMebibytes:0} |"));
        }

        Console.WriteLine(FormattableString.Invariant(
            $"| | **reader ÷ passed on** | **{medians[2].WallSeconds / medians[1].WallSeconds:0.00}** | **{medians[2].CpuSeconds / medians[1].CpuSeconds:0.00}** | |"));
        File.Delete(flac);
    }
}
