namespace Station.Audio.Meters;

/// <summary>How the pitch sways once per turn.</summary>
/// <param name="PeakPercent">Peak deviation at the rate of the turn, %.</param>
/// <param name="NeighboursPercent">The same at neighbouring rates, root of the mean square, %: what music makes by itself.</param>
public sealed record Sway(double PeakPercent, double NeighboursPercent);
