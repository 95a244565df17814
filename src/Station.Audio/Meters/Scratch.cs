namespace Station.Audio.Meters;

/// <summary>Ticks that come back once per turn.</summary>
/// <param name="FirstFrame">The first of them.</param>
/// <param name="LastFrame">The last.</param>
/// <param name="Ticks">How many were found.</param>
/// <param name="Turns">Over how many turns, those whose tick was not found included.</param>
/// <param name="PeakDbfs">The median of their peaks, dBFS.</param>
/// <param name="TurnSeconds">Their distance; a slanting scratch makes it a little longer or shorter than a turn.</param>
public sealed record Scratch(long FirstFrame, long LastFrame, int Ticks, int Turns, double PeakDbfs, double TurnSeconds);
