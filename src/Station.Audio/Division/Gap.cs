namespace Station.Audio.Division;

/// <summary>A quiet stretch between music.</summary>
/// <param name="FirstStep">First quiet step.</param>
/// <param name="EndStep">First step of music again.</param>
/// <param name="Confidence">0 to 1 that it is a gap between tracks.</param>
internal sealed record Gap(int FirstStep, int EndStep, double Confidence)
{
    private const double SureOdds = 5;

    public int Steps => EndStep - FirstStep;

    /// <summary>The same as log-odds, none surer than five either way.</summary>
    public double Odds => Math.Clamp(Math.Log(Math.Max(1e-6, Confidence) / Math.Max(1e-6, 1 - Confidence)), -SureOdds, SureOdds);
}
