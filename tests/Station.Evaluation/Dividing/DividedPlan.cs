using Station.Evaluation.Disc;

namespace Station.Evaluation.Dividing;

/// <summary>Everything about a side to be divided before it is made.</summary>
/// <param name="Recipe">Disc, turntable and chain; its own list of tracks stays empty.</param>
public sealed record DividedPlan(DiscRecipe Recipe)
{
    /// <summary>What is cut, in order.</summary>
    public required IReadOnlyList<DividedPiece> Pieces { get; init; }

    /// <summary>A crowd is heard between the tracks and faintly under them.</summary>
    public bool Crowd { get; init; }

    /// <summary>Change of the groove noise from first to last groove, dB.</summary>
    public double NoiseDriftDb { get; init; }

    /// <summary>How the lengths on the sleeve are wrong.</summary>
    public PrintedErrors Print { get; init; } = PrintedErrors.Ordinary;

    /// <summary>Longest stretch inside a track that lies under the noise, seconds; a side with a longer one is drawn anew.</summary>
    public double LongestLullSeconds { get; init; } = 1;
}
