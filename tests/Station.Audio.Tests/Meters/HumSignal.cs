namespace Station.Audio.Tests.Meters;

/// <summary>Mains hum as circuits make it.</summary>
internal static class HumSignal
{
    /// <summary>Adds a fundamental and three harmonics 10, 14 and 20 dB lower, throughout.</summary>
    public static NoiseSide Hum(this NoiseSide side, double hz, double dbfs) => side
        .Tone(hz, dbfs, phase: 0.3)
        .Tone(2 * hz, dbfs - 10, phase: 1)
        .Tone(3 * hz, dbfs - 14, phase: 2)
        .Tone(5 * hz, dbfs - 20, phase: 4);
}
