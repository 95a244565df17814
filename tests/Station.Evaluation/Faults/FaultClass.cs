namespace Station.Evaluation.Faults;

/// <summary>A finding class: its code, its goal and the strengths that are tried.</summary>
/// <param name="Code">The finding code.</param>
/// <param name="GoalPercent">Share of sides at the committed strengths that must be detected: 98, 90 or 80.</param>
/// <param name="Rows">Strengths, at least one of them a must.</param>
public sealed record FaultClass(string Code, int GoalPercent, IReadOnlyList<FaultRow> Rows);
