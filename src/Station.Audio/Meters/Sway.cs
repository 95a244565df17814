namespace Station.Audio.Meters;

/// <summary>How the pitch sways once per turn.</summary>
/// <param name="PeakPercent">Peak deviation at the rate of the turn, %.</param>
/// <param name="NeighboursPercent">The same at neighbouring rates, root of the mean square estimated from their median, a sway at the turn taken out, %: what music makes by itself.</param>
public sealed record Sway(double PeakPercent, double NeighboursPercent)
{
    /// <summary>A sway is told when it exceeds its neighbours by so much. Chance gives 1 in 50 above 2 (Rayleigh's distribution, computed); own choice.</summary>
    public const double LeastRatio = 2;

    /// <summary>Whether it stands out of what music makes by itself.</summary>
    public bool IsCertain => PeakPercent >= LeastRatio * NeighboursPercent;
}
