namespace Station.Evaluation.Dividing;

/// <summary>One side to be made and divided.</summary>
/// <param name="Class">Its class.</param>
/// <param name="Index">Its number within the class.</param>
/// <param name="Seed">Its seed.</param>
public sealed record DivisionOrder(DivisionClass Class, int Index, ulong Seed)
{
    /// <summary>Its name: together with the set it stands for the side, bit for bit.</summary>
    public string Name => $"{Class.Name}/{Index}/{Seed}";

    /// <summary>Every side of a run, in order.</summary>
    /// <exception cref="ArgumentException">A class is unknown.</exception>
    public static IReadOnlyList<DivisionOrder> All(EvaluationOptions options, IReadOnlyList<ulong> seeds)
    {
        ArgumentNullException.ThrowIfNull(options);
        ArgumentNullException.ThrowIfNull(seeds);
        string? unknown = options.Classes.FirstOrDefault(c => DivisionClasses.All.All(k => !string.Equals(k.Name, c, StringComparison.Ordinal)));
        if (unknown is not null)
        {
            throw new ArgumentException($"There is no class {unknown} of sides to be divided.");
        }

        return [.. DivisionClasses.All.Where(k => options.Classes.Count == 0 || options.Classes.Contains(k.Name, StringComparer.Ordinal))
            .SelectMany(k => Enumerable.Range(0, options.Sides * k.Weight).Select(i => new DivisionOrder(k, i, seeds[i % seeds.Count])))];
    }
}
