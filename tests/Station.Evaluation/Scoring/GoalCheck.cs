namespace Station.Evaluation.Scoring;

/// <summary>One goal and whether it was met.</summary>
/// <param name="Class">Finding code, or <c>clean</c>.</param>
/// <param name="What">What is asked for, in words.</param>
/// <param name="Hits">Sides that meet it.</param>
/// <param name="Count">Sides that count.</param>
/// <param name="Met">True when the share found reaches the goal. The bounds say how sure that is.</param>
public sealed record GoalCheck(string Class, string What, int Hits, int Count, bool Met);
