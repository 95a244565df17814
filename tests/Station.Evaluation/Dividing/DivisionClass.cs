namespace Station.Evaluation.Dividing;

/// <summary>One kind of side to be divided.</summary>
/// <param name="Name">Its name on the command line and in the tables.</param>
/// <param name="What">What is special about it, as in docs/evaluation.md.</param>
/// <param name="Guides">What the sheet tells: the same side is divided with each.</param>
public sealed record DivisionClass(string Name, string What, IReadOnlyList<GuideKind> Guides)
{
    /// <summary>Draws a side.</summary>
    public required Func<SidePlanner, DividedPlan> Plan { get; init; }

    /// <summary>Counts for the goals of clean sides.</summary>
    public bool Clean { get; init; }

    /// <summary>How many times as many sides as of an ordinary class.</summary>
    public int Weight { get; init; } = 1;
}
