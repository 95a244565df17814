namespace Station.Audio.Meters;

/// <summary>How fast the turntable turned, from what came back once per turn.</summary>
/// <param name="PeriodSeconds">One turn, seconds; 0.6 to 4.</param>
/// <param name="Confidence">0 to 1: how clearly the turn stood out of chance; 0.5 is the least that is told.</param>
/// <param name="Source">What came back.</param>
public sealed record RevolutionReading(double PeriodSeconds, double Confidence, RevolutionSource Source)
{
    /// <summary>Revolutions per minute.</summary>
    public double Rpm => 60 / PeriodSeconds;
}
