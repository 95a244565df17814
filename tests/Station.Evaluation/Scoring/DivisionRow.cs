using Station.Evaluation.Dividing;

namespace Station.Evaluation.Scoring;

/// <summary>One divided side with everything that was said about it.</summary>
/// <param name="Name">Class, number and seed.</param>
/// <param name="Class">Its class.</param>
/// <param name="Index">Its number within the class.</param>
/// <param name="Truth">Where its tracks are.</param>
/// <param name="ByGuide">Divided with each guide of its class.</param>
/// <param name="Naive">Divided at each fixed threshold, dBFS.</param>
public sealed record DivisionRow(
    string Name, DivisionClass Class, int Index, DividedTruth Truth, IReadOnlyDictionary<GuideKind, DivisionScore> ByGuide, IReadOnlyDictionary<double, DivisionScore> Naive)
{
    /// <summary>Length of the capture, seconds.</summary>
    public double SideSeconds { get; init; }

    /// <summary>Time to make or read it, seconds.</summary>
    public double MakeSeconds { get; init; }

    /// <summary>Time to measure and divide it, seconds.</summary>
    public double JudgeSeconds { get; init; }
}
