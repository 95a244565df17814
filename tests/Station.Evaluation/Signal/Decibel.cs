namespace Station.Evaluation.Signal;

/// <summary>Ratios of amplitudes.</summary>
public static class Decibel
{
    /// <summary>10^(dB/20).</summary>
    public static double ToLinear(double decibels) => Math.Pow(10, decibels / 20);

    /// <summary>20·log10; −∞ for 0.</summary>
    public static double FromLinear(double amplitude) => 20 * Math.Log10(Math.Abs(amplitude));
}
