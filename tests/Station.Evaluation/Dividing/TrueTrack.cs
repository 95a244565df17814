namespace Station.Evaluation.Dividing;

/// <summary>One track of a side whose making is known.</summary>
/// <param name="Start">Its start.</param>
/// <param name="End">Its end.</param>
/// <param name="MusicStartSeconds">First audible music: what a start after it loses.</param>
/// <param name="MusicEndSeconds">Last audible music.</param>
public sealed record TrueTrack(TrueEdge Start, TrueEdge End, double MusicStartSeconds, double MusicEndSeconds);
