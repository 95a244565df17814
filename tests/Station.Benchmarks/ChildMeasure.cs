using System.ComponentModel;
using System.Diagnostics;
using System.Runtime.InteropServices;
using System.Text.Json;

namespace Station.Benchmarks;

/// <summary>What a command and everything it started used, by the kernel's own account.</summary>
/// <param name="CpuSeconds">User and system time of the command and its descendants.</param>
/// <param name="PeakMebibytes">Largest resident size of any one of them.</param>
internal sealed record Usage(double WallSeconds, double CpuSeconds, double PeakMebibytes)
{
    /// <summary>The middle of each value by itself.</summary>
    public static Usage Median(IReadOnlyCollection<Usage> runs) => new(
        Middle(runs.Select(r => r.WallSeconds)), Middle(runs.Select(r => r.CpuSeconds)), Middle(runs.Select(r => r.PeakMebibytes)));

    private static double Middle(IEnumerable<double> values)
    {
        double[] ordered = [.. values.Order()];
        return ordered[ordered.Length / 2];
    }
}

/// <summary>
/// Runs a command and asks the kernel what its children used. Each measurement is a process of its own, because the peak the kernel
/// keeps is that of all children so far.
/// </summary>
internal static partial class ChildMeasure
{
    private const int Children = -1;     // RUSAGE_CHILDREN, getrusage(2)

    /// <summary>The measuring process: runs the command and writes its usage as JSON.</summary>
    public static int Run(string resultFile, string[] command)
    {
        long started = Stopwatch.GetTimestamp();
        using Process child = Process.Start(new ProcessStartInfo(command[0], command[1..]) { RedirectStandardOutput = true, RedirectStandardError = true, UseShellExecute = false })!;
        Task<string> error = child.StandardError.ReadToEndAsync();
        child.StandardOutput.ReadToEnd();
        child.WaitForExit();
        double wall = Stopwatch.GetElapsedTime(started).TotalSeconds;
        if (child.ExitCode is not (0 or 1))
        {
            Console.Error.WriteLine($"{string.Join(' ', command)}: exit code {child.ExitCode}: {error.Result}");
            return 70;
        }

        if (GetResourceUsage(Children, out ResourceUsage usage) != 0)
        {
            throw new Win32Exception(Marshal.GetLastPInvokeError());
        }

        File.WriteAllText(resultFile, JsonSerializer.Serialize(new Usage(wall, usage.CpuSeconds, usage.MaxResidentKibibytes / 1024.0)));
        return 0;
    }

    /// <summary>Measures a command in a fresh measuring process.</summary>
    public static Usage Of(params string[] command)
    {
        string result = Path.GetTempFileName();
        try
        {
            using Process measuring = Process.Start(new ProcessStartInfo(Environment.ProcessPath!, [BenchmarkCatalogue.MeasureName, result, .. command]) { UseShellExecute = false })!;
            measuring.WaitForExit();
            return measuring.ExitCode == 0
                ? JsonSerializer.Deserialize<Usage>(File.ReadAllText(result))!
                : throw new InvalidOperationException($"{string.Join(' ', command)} failed.");
        }
        finally
        {
            File.Delete(result);
        }
    }

    [LibraryImport("libc", EntryPoint = "getrusage", SetLastError = true)]
    private static partial int GetResourceUsage(int who, out ResourceUsage usage);

    /// <summary>struct rusage of Linux on 64-bit machines, getrusage(2); only the first fields are used.</summary>
    [StructLayout(LayoutKind.Sequential, Size = 18 * sizeof(long))]
    private struct ResourceUsage
    {
        public long UserSeconds;
        public long UserMicroseconds;
        public long SystemSeconds;
        public long SystemMicroseconds;
        public long MaxResidentKibibytes;

        public readonly double CpuSeconds => UserSeconds + SystemSeconds + ((UserMicroseconds + SystemMicroseconds) / 1e6);
    }
}
