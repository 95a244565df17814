namespace Station.Audio.Meters;

/// <summary>Sum of z[n+lag]·z*[n] over pairs of windows, turned back by the nominal frequency.</summary>
/// <param name="Re">Real part.</param>
/// <param name="Im">Imaginary part.</param>
/// <param name="Power">Sum of the pairs' mean powers.</param>
/// <param name="Count">Pairs.</param>
/// <param name="LagSeconds">Time from the first to the second of a pair.</param>
internal readonly record struct HumPairs(double Re, double Im, double Power, int Count, double LagSeconds)
{
    /// <summary>Share of the power that is steady, 0 to 1: about 1 ÷ √pairs for noise.</summary>
    public double Coherence => Power > 0 ? Math.Sqrt((Re * Re) + (Im * Im)) / Power : 0;

    /// <summary>Distance from nominal, Hz, within half a turn of the lag.</summary>
    public double OffsetHz => Math.Atan2(Im, Re) / (2 * Math.PI * LagSeconds);

    /// <summary>Mean power of the steady part.</summary>
    public double SteadyPower => Count > 0 ? Math.Sqrt((Re * Re) + (Im * Im)) / Count : 0;

    /// <summary>Share of the power that turns at one frequency, −1 to 1.</summary>
    public double CoherenceAt(double offsetHz)
    {
        (double sin, double cos) = Math.SinCos(2 * Math.PI * offsetHz * LagSeconds);
        return Power > 0 ? ((Re * cos) + (Im * sin)) / Power : 0;
    }

    /// <summary>The frequency among those with this angle that is nearest to an estimate, Hz from nominal.</summary>
    public double OffsetNear(double estimateHz)
    {
        double turnsHz = 1 / LagSeconds;
        return OffsetHz + (turnsHz * Math.Round((estimateHz - OffsetHz) / turnsHz));
    }
}
