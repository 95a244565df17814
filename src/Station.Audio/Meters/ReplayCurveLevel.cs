namespace Station.Audio.Meters;

/// <summary>Level of the fine-groove replay curve (IEC 60098: 3180, 318 and 75 µs, without the 20 Hz amendment), 0 dB at 1 kHz.</summary>
public static class ReplayCurveLevel
{
    private const double ShelfSeconds = 3180e-6;
    private const double TurnoverSeconds = 318e-6;
    private const double TrebleSeconds = 75e-6;

    private static readonly double AtOneKilohertz = Unscaled(1000);

    /// <summary>Gain in dB.</summary>
    /// <param name="frequencyHz">0 and up.</param>
    public static double GainDb(double frequencyHz) => 10 * Math.Log10(Unscaled(frequencyHz) / AtOneKilohertz);

    private static double Unscaled(double frequencyHz)
    {
        double w = 2 * Math.PI * frequencyHz;
        return Corner(w * TurnoverSeconds) / (Corner(w * ShelfSeconds) * Corner(w * TrebleSeconds));
    }

    private static double Corner(double x) => 1 + (x * x);
}
