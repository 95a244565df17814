using System.Diagnostics;
using System.Globalization;
using Station.Evaluation.Disc;

namespace Station.Evaluation;

/// <summary>Goes through the sides of a run.</summary>
public static class SideLoop
{
    /// <summary>Goes through the sides, several at a time, and tells how far it is.</summary>
    /// <param name="names">Of the sides.</param>
    /// <param name="jobs">At a time.</param>
    /// <param name="one">Makes and judges the side of an index.</param>
    /// <param name="say">Told of progress and of what could not be made.</param>
    /// <exception cref="ArgumentException">There is no side, or none could be made.</exception>
    public static LoopResult<T> Run<T>(IReadOnlyList<string> names, int jobs, Func<int, T> one, Action<string> say)
        where T : class
    {
        ArgumentNullException.ThrowIfNull(names);
        ArgumentNullException.ThrowIfNull(one);
        ArgumentNullException.ThrowIfNull(say);
        if (names.Count == 0)
        {
            throw new ArgumentException("No side to make: --sides, --clean and --classes leave none.");
        }

        var results = new T?[names.Count];
        int done = 0;
        long started = Stopwatch.GetTimestamp();
        TimeSpan cpuBefore = Environment.CpuUsage.TotalTime;
        Parallel.For(0, names.Count, new ParallelOptions { MaxDegreeOfParallelism = jobs }, i =>
        {
            // One side that can't be made must not cost hours of others: it is named, counted, and fails the run.
            try
            {
                results[i] = one(i);
            }
            catch (SideUnfitException fault)
            {
                say($"not made: {names[i]}: {fault.Message}");
            }

            int count = Interlocked.Increment(ref done);
            if (count % 10 == 0 || count == names.Count)
            {
                say(string.Create(CultureInfo.InvariantCulture, $"{count} of {names.Count} sides, {Stopwatch.GetElapsedTime(started).TotalSeconds:0} s"));
            }
        });
        var loop = new LoopResult<T>(results, Stopwatch.GetElapsedTime(started), Environment.CpuUsage.TotalTime - cpuBefore);
        return loop.Made.Count > 0 ? loop : throw new ArgumentException("None of the sides could be made.");
    }
}

/// <summary>What a run over many sides gave.</summary>
/// <param name="Results">In the order asked for; null for a side that could not be made.</param>
/// <param name="Wall">How long it took.</param>
/// <param name="Cpu">Of this process alone.</param>
public sealed record LoopResult<T>(IReadOnlyList<T?> Results, TimeSpan Wall, TimeSpan Cpu)
    where T : class
{
    /// <summary>Those that could be made.</summary>
    public IReadOnlyList<T> Made { get; } = [.. Results.OfType<T>()];
}
