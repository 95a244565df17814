namespace Station.Audio.Meters;

/// <summary>A-weighting by its analogue poles (IEC 61672-1; the four frequencies from memory): what a noise is worth to the ear at low levels.</summary>
public static class AWeighting
{
    // Double pole, two single poles, double pole; four zeros at 0 Hz. Hz.
    private const double Low = 20.598_997;
    private const double LowerMiddle = 107.652_65;
    private const double UpperMiddle = 737.862_23;
    private const double High = 12_194.217;

    private static readonly double AtOneKilohertz = Unscaled(1000);

    /// <summary>Power gain, 1 at 1 kHz.</summary>
    /// <param name="frequencyHz">0 and up.</param>
    public static double PowerGain(double frequencyHz) => Unscaled(frequencyHz) / AtOneKilohertz;

    /// <summary>Gain in dB, 0 at 1 kHz.</summary>
    /// <param name="frequencyHz">Above 0.</param>
    public static double GainDb(double frequencyHz) => 10 * Math.Log10(PowerGain(frequencyHz));

    private static double Unscaled(double frequencyHz)
    {
        double f2 = frequencyHz * frequencyHz;
        double low = f2 + (Low * Low);
        double high = f2 + (High * High);
        return f2 * f2 * f2 * f2 / (low * low * (f2 + (LowerMiddle * LowerMiddle)) * (f2 + (UpperMiddle * UpperMiddle)) * high * high);
    }
}
