namespace Station.Audio.Meters.Turns;

/// <summary>A piece of the capture that resembles the one a turn before.</summary>
/// <param name="Piece">Which piece; it begins at that many times <see cref="TurnReading.PieceSeconds"/>.</param>
/// <param name="LagSeconds">The turn.</param>
/// <param name="Correlation">How much the low notes resemble, over the last four pieces; −1 to 1.</param>
/// <param name="Powers">What is heard, by band, as <see cref="TurnReading.Powers"/>.</param>
/// <param name="Differences">Half the power of what differs between the two: what neither has from the other, by band.</param>
public readonly record struct TurnRepeat(int Piece, float LagSeconds, float Correlation, TurnCells Powers, TurnCells Differences);
