namespace Station.Audio.Meters.Turns;

/// <summary>A lag at which a capture may repeat.</summary>
/// <param name="Seconds">The lag.</param>
/// <param name="Correlation">How much what is heard resembles what was heard that long before, 0 to 1.</param>
internal readonly record struct TurnLag(double Seconds, float Correlation);
