using BenchmarkDotNet.Running;

namespace Station.Benchmarks;

/// <summary>
/// What can be measured, by name: <c>dotnet run -c Release --project tests/Station.Benchmarks -- NAME [options]</c>. A micro-benchmark
/// takes BenchmarkDotNet's own options (<c>--job short</c> for a quick look); a whole-job measurement runs the real process and says
/// itself what it takes.
/// </summary>
internal static class BenchmarkCatalogue
{
    // EX_USAGE of sysexits.h: the command was used wrongly.
    private const int UsageCode = 64;

    /// <summary>The measuring process that <see cref="ChildMeasure"/> starts.</summary>
    public const string MeasureName = "measure";

    private static readonly Entry[] Entries =
    [
        Micro<DecodingBenchmark>("decoding", "WAV of 16 and 24 bits to float blocks, against a general-purpose reader on the same file"),
        Micro<SynthesisBenchmark>("synthesis", "preparing and rendering a synthesised side, music and groove apart"),
        Micro<MeterBenchmark>("meters", "the one pass over a minute of sound: all meters, and the programme fingerprint apart"),
        new("meter-shares", "what each meter costs by itself; [RATE, default 44100]", MeterShares.Run),
        Micro<OddSignalBenchmark>("odd-signals", "all meters over silence, denormals, constants, full scale, invalid floats: no slow path"),
        new("loudness", "all meters against a loudness library and a codec suite on one file; [MINUTES a side, default 22] [RUNS, default 3]", LoudnessBenchmark.Run),
        new(LoudnessBenchmark.OnceName, "used by loudness: one measurement", arguments => LoudnessBenchmark.Once(arguments[0], arguments[1])),
        new("identity", "hits and false matches of the programme fingerprint on synthesised sides; [SEEDS, default 40]", IdentityCampaign.Run),
        new("job", "the whole job against the bare codecs: wall, CPU, peak memory; [MINUTES a side, default 22] [RUNS, default 3]", JobBenchmark.Run),
        new("encode", "encoding a side's tracks from its master against the bare encoders: wall, CPU; [MINUTES a side, default 22] [RUNS, default 3]", EncodeBenchmark.Run),
        new(EncodeBenchmark.OnceName, "used by encode: one encoding", arguments => EncodeBenchmark.Once(arguments[0], arguments[1], arguments[2])),
        new("flac-read", "reading a FLAC capture against decoding it unseen: wall, CPU, peak memory; [MINUTES a side, default 22] [RUNS, default 3]", FlacReadBenchmark.Run),
        new(FlacReadBenchmark.OnceName, "used by flac-read: one reading in one way", arguments => FlacReadBenchmark.Once(arguments[0], arguments[1])),
        new("sweep", "one look at a full inbox: [FILES, default 10000] [RUNS, default 21]", SweepBenchmark.Run),
        new("audit", "full verification against openssl; verify --quick and the audit's questions over many bags; [BAGS of 100 MiB, default 40] [RUNS, default 5] [SMALL BAGS, default 100000]", AuditBenchmark.Run),
        new(AuditBenchmark.CheckName, "used by audit: one full check", arguments => AuditBenchmark.Check(arguments[0])),
        new(AuditBenchmark.PlanName, "used by audit: the questions", arguments => AuditBenchmark.Plan(arguments[0])),
        new("division", "dividing a side into tracks once its envelope is there; [MINUTES, default 22] [RUNS, default 7]", DivisionBenchmark.Run),
        new("stylus", "hits and false alarms of the stylus detector on synthesised captures; [CAPTURES of each kind, default 40] [SEED, default 1]", StylusCampaign.Run),
        new(MeasureName, "used by the others: runs a command and writes what it used", arguments => ChildMeasure.Run(arguments[0], arguments[1..])),
    ];

    /// <returns>Exit code: 0 measured, 1 a benchmark failed, 64 no such benchmark.</returns>
    public static int Run(string[] args)
    {
        Entry? entry = args.Length == 0 ? null : Array.Find(Entries, e => string.Equals(e.Name, args[0], StringComparison.Ordinal));
        if (entry is not null)
        {
            return entry.Run(args[1..]);
        }

        Console.Error.WriteLine(args.Length == 0 ? "expected the name of a benchmark:" : $"no benchmark is called {args[0]}; there are:");
        foreach (Entry known in Entries)
        {
            Console.Error.WriteLine($"  {known.Name,-14} {known.Says}");
        }

        return UsageCode;
    }

    private static Entry Micro<T>(string name, string says) => new(name, says, options =>
    {
        BenchmarkDotNet.Reports.Summary[] summaries = [BenchmarkRunner.Run<T>(args: options)];
        return summaries.All(s => s.Reports.Length > 0 && s.Reports.All(r => r.Success)) ? 0 : 1;
    });

    private sealed record Entry(string Name, string Says, Func<string[], int> Run);
}
