using System.Globalization;

namespace Station.Mutation.Campaign;

/// <summary>What a campaign found so far.</summary>
internal sealed class Tally
{
    private readonly Lock _gate = new();
    private readonly SortedDictionary<string, int> _outcomes = new(StringComparer.Ordinal);
    private readonly SortedDictionary<string, int> _opinions = new(StringComparer.Ordinal);
    private readonly SortedDictionary<long, List<string>> _faults = [];

    public int Files { get; private set; }

    public double SlowestMilliseconds { get; private set; }

    public long LargestGrowthKib { get; private set; }

    public long LargestAllocationKib { get; private set; }

    /// <summary>By the file's number.</summary>
    public IReadOnlyDictionary<long, List<string>> Faults => _faults;

    /// <summary>Notes a broken promise.</summary>
    /// <returns>True for the first of its file.</returns>
    public bool Fault(long index, string text)
    {
        lock (_gate)
        {
            bool first = _faults.TryAdd(index, []);
            _faults[index].Add(text);
            return first;
        }
    }

    /// <summary>Notes the line a worker writes after a file.</summary>
    public void End(string[] words)
    {
        lock (_gate)
        {
            Files++;
            Count(_outcomes, $"{words[3],-4} {words[2]}");
            SlowestMilliseconds = Math.Max(SlowestMilliseconds, double.Parse(words[4], CultureInfo.InvariantCulture));
            LargestGrowthKib = Math.Max(LargestGrowthKib, long.Parse(words[5], CultureInfo.InvariantCulture));
            LargestAllocationKib = Math.Max(LargestAllocationKib, long.Parse(words[6], CultureInfo.InvariantCulture));
            if (words[7] != "-")
            {
                Count(_opinions, words[7]);
            }
        }
    }

    public void Print(TextWriter output)
    {
        lock (_gate)
        {
            foreach ((string what, int count) in _outcomes)
            {
                output.WriteLine(FormattableString.Invariant($"  {count,7}  {what}"));
            }

            output.WriteLine($"  ffmpeg asked: {string.Join(", ", _opinions.Select(o => FormattableString.Invariant($"{o.Value} {o.Key}")))}");
            output.WriteLine(FormattableString.Invariant(
                $"  slowest {SlowestMilliseconds:0} ms, largest growth {LargestGrowthKib} KiB, largest allocation {LargestAllocationKib} KiB"));
        }
    }

    private static void Count(SortedDictionary<string, int> counts, string key) => counts[key] = counts.GetValueOrDefault(key) + 1;
}
