using Station.Evaluation.Faults;

namespace Station.Evaluation;

/// <summary>One side to be made and judged.</summary>
/// <param name="Class">Finding code, or <c>clean</c>.</param>
/// <param name="Row">What is done to it.</param>
/// <param name="Index">Its number within the row.</param>
/// <param name="Seed">Its seed.</param>
public sealed record SideOrder(string Class, FaultRow Row, int Index, ulong Seed)
{
    /// <summary>Its name: together with the set it stands for the side, bit for bit.</summary>
    public string Name => $"{Class}/{Row.Name}/{Index}/{Seed}";

    /// <summary>Every side of a run, in order.</summary>
    public static IReadOnlyList<SideOrder> All(EvaluationOptions options, IReadOnlyList<ulong> seeds)
    {
        ArgumentNullException.ThrowIfNull(options);
        ArgumentNullException.ThrowIfNull(seeds);
        bool Wanted(string code) => options.Classes.Count == 0 || options.Classes.Contains(code, StringComparer.Ordinal);
        string? unknown = options.Classes.FirstOrDefault(c => !string.Equals(c, "clean", StringComparison.Ordinal)
            && FaultCatalogue.All.All(f => !string.Equals(f.Code, c, StringComparison.Ordinal)));
        if (unknown is not null)
        {
            throw new ArgumentException($"There is no class {unknown}.");
        }

        var orders = new List<SideOrder>();
        foreach (FaultClass fault in FaultCatalogue.All.Where(f => Wanted(f.Code)))
        {
            FaultRow[] must = [.. fault.Rows.Where(r => r.Must)];
            foreach (FaultRow row in fault.Rows)
            {
                int place = Array.IndexOf(must, row);
                int count = place >= 0 ? Math.Max(0, (options.Sides - place + must.Length - 1) / must.Length) : (options.Sides + 5) / 6;
                orders.AddRange(Enumerable.Range(0, count).Select(i => new SideOrder(fault.Code, row, i, seeds[i % seeds.Count])));
            }
        }

        if (Wanted("clean"))
        {
            int clean = options.Clean ?? (options.Sides * 400 / 60);
            IReadOnlyList<FaultRow> traps = CleanTraps.All;
            orders.AddRange(Enumerable.Range(0, clean).Select(i => new SideOrder("clean", traps[i % traps.Count], i / traps.Count, seeds[i / traps.Count % seeds.Count])));
        }

        return orders;
    }
}
