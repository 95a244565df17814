namespace Station.Audio.Meters;

/// <summary>One second-order section, a0 = 1: y[n] = b0·x[n] + b1·x[n−1] + b2·x[n−2] − a1·y[n−1] − a2·y[n−2].</summary>
public readonly record struct BiquadCoefficients(double B0, double B1, double B2, double A1, double A2)
{
    /// <summary>Gain at one frequency, dB.</summary>
    /// <param name="frequencyHz">0 to half the sample rate.</param>
    /// <param name="sampleRateHz">Frames per second.</param>
    public double GainDb(double frequencyHz, double sampleRateHz)
    {
        double w = 2 * Math.PI * frequencyHz / sampleRateHz;
        (double s1, double c1) = Math.SinCos(w);
        (double s2, double c2) = Math.SinCos(2 * w);
        double numerator = Square(B0 + (B1 * c1) + (B2 * c2)) + Square((B1 * s1) + (B2 * s2));
        double denominator = Square(1 + (A1 * c1) + (A2 * c2)) + Square((A1 * s1) + (A2 * s2));
        return 10 * Math.Log10(numerator / denominator);
    }

    private static double Square(double x) => x * x;
}
