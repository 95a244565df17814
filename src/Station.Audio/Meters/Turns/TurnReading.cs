using System.Collections.Immutable;

namespace Station.Audio.Meters.Turns;

/// <summary>What was found out about the capture repeating by the turn.</summary>
public sealed record TurnReading
{
    /// <summary>Nothing was compared.</summary>
    public static TurnReading Empty { get; } = new();

    /// <summary>Length of a piece, seconds; about 0.3.</summary>
    public double PieceSeconds { get; init; }

    /// <summary>Mean square of each band of each piece, in order of pieces; of the stylus's acceleration, so to speak: the streams are differentiated once, and only ratios mean anything.</summary>
    public ImmutableArray<TurnCells> Powers { get; init; } = [];

    /// <summary>Pieces that resemble the one a turn before, in order; never two of one piece.</summary>
    public ImmutableArray<TurnRepeat> Repeats { get; init; } = [];
}
