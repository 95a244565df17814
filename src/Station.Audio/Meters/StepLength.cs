namespace Station.Audio.Meters;

/// <summary>The common time grid of meters and envelope.</summary>
public static class StepLength
{
    /// <summary>Steps per second; 20 ms each.</summary>
    public const int StepsPerSecond = 50;

    /// <summary>Frames of one step: exact for the usual rates, rounded to the nearest frame otherwise.</summary>
    /// <param name="sampleRateHz">Frames per second.</param>
    public static int Frames(int sampleRateHz) => (sampleRateHz + (StepsPerSecond / 2)) / StepsPerSecond;
}
