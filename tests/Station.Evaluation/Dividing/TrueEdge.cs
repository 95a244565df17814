namespace Station.Evaluation.Dividing;

/// <summary>Where a track begins or ends, and what is still right.</summary>
/// <param name="Seconds">The place in the capture.</param>
/// <param name="Early">How much earlier is still right, seconds.</param>
/// <param name="Late">How much later is still right, seconds.</param>
/// <param name="Placed">Found by lengths alone, or inside a crowd's noise: no place near it counts as a cut inside a track.</param>
public sealed record TrueEdge(double Seconds, double Early, double Late, bool Placed = false)
{
    /// <summary>A start is right within half a second.</summary>
    public const double StartTolerance = 0.5;

    /// <summary>An end is right within a second.</summary>
    public const double EndTolerance = 1.0;

    /// <summary>An edge that only lengths can place is right within three seconds, start and end alike.</summary>
    public const double SegueTolerance = 3;

    /// <summary>The start of a track in a gap.</summary>
    public static TrueEdge Start(double seconds) => new(seconds, StartTolerance, StartTolerance);

    /// <summary>The end of a track in a gap.</summary>
    public static TrueEdge End(double seconds) => new(seconds, EndTolerance, EndTolerance);

    /// <summary>A start or an end where two tracks meet.</summary>
    public static TrueEdge Segue(double seconds) => new(seconds, SegueTolerance, SegueTolerance, Placed: true);
}
