using System.Diagnostics;
using System.Globalization;
using Microsoft.Extensions.DependencyInjection;
using Station.Archive.Durability;
using Station.Daemon.Commands;
using Station.Daemon.Configuration;
using Station.Daemon.Intake;
using Station.Daemon.Jobs;
using Station.Daemon.Jobs.Store;

namespace Station.Benchmarks;

/// <summary>
/// One look at an inbox full of captures that are not settled yet: the first, which learns the names, and those after it; against the same look with a path made
/// for each file.
/// </summary>
internal static class SweepBenchmark
{
    public static int Run(string[] arguments)
    {
        int files = arguments.Length > 0 ? int.Parse(arguments[0], CultureInfo.InvariantCulture) : 10_000;
        int runs = arguments.Length > 1 ? int.Parse(arguments[1], CultureInfo.InvariantCulture) : 21;
        string root = Directory.CreateTempSubdirectory("station-bench-").FullName;
        try
        {
            var folders = new StationFolders(root);
            folders.Create();
            for (int n = 0; n < files; n++)
            {
                File.WriteAllText(Path.Combine(folders.Inbox, FormattableString.Invariant($"HL-{n:00000}-A.wav")), "RIFF");
            }

            var configuration = new StationConfiguration();
            configuration.Intake.QuietSeconds = 600;       // nothing is taken: looking is measured, not claiming
            using SqliteStore store = SqliteStore.Open(folders.Database, TimeProvider.System);
            var first = new List<(double Wall, double Cpu)>();
            var later = new List<(double Wall, double Cpu)>();
            var plain = new List<(double Wall, double Cpu)>();
            long made = 0;
            for (int run = 0; run < runs; run++)
            {
                using ServiceProvider services = Services(configuration, folders, store);
                InboxSweep sweep = services.GetRequiredService<InboxSweep>();
                first.Add(Milliseconds(() => sweep.RunAsync(CancellationToken.None).GetAwaiter().GetResult()));
                long before = GC.GetAllocatedBytesForCurrentThread();
                later.Add(Milliseconds(() => sweep.RunAsync(CancellationToken.None).GetAwaiter().GetResult()));
                made = GC.GetAllocatedBytesForCurrentThread() - before;
                plain.Add(Milliseconds(() => PathForEach(folders.Inbox)));
            }

            Console.WriteLine(FormattableString.Invariant($"{files} files, medians of {runs} runs (least to most)"));
            Console.WriteLine("| look | wall ms | CPU ms |");
            Console.WriteLine("|---|---|---|");
            Console.WriteLine($"| the first sweep | {Text(first)} |");
            Console.WriteLine($"| each sweep after it | {Text(later)} |");
            Console.WriteLine($"| a path for each file and a look at it | {Text(plain)} |");
            Console.WriteLine(FormattableString.Invariant($"A sweep after the first allocates {made / 1024.0:0.0} KiB."));
            return 0;
        }
        finally
        {
            Directory.Delete(root, recursive: true);
        }
    }

    private static ServiceProvider Services(StationConfiguration configuration, StationFolders folders, IStationStore store)
    {
        var services = new ServiceCollection();
        services.AddLogging();
        services.AddPipeline(configuration, folders, store, JobPolicy.Service, TimeProvider.System);
        services.AddIntake();
        return services.BuildServiceProvider();
    }

    private static int PathForEach(string inbox) => Directory.EnumerateFileSystemEntries(inbox).Count(path => SafeOpen.TryLook(path) is { Kind: FileKind.Regular });

    /// <summary>On the wall, and of the processor by the whole process: on a machine that does other things the second tells more.</summary>
    private static (double Wall, double Cpu) Milliseconds(Action action)
    {
        TimeSpan used = Environment.CpuUsage.TotalTime;
        long since = Stopwatch.GetTimestamp();
        action();
        return (Stopwatch.GetElapsedTime(since).TotalMilliseconds, (Environment.CpuUsage.TotalTime - used).TotalMilliseconds);
    }

    private static string Text(List<(double Wall, double Cpu)> times) => $"{Text(times.Select(t => t.Wall))} | {Text(times.Select(t => t.Cpu))}";

    private static string Text(IEnumerable<double> times)
    {
        double[] sorted = [.. times.Order()];
        return FormattableString.Invariant($"{sorted[sorted.Length / 2]:0.0} ({sorted[0]:0.0} to {sorted[^1]:0.0})");
    }
}
