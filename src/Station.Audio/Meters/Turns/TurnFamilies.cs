namespace Station.Audio.Meters.Turns;

/// <summary>Times a turntable may need for a turn.</summary>
internal static class TurnFamilies
{
    /// <summary>
    /// Shortest and longest turn of each family, seconds. 33⅓ and 45 rev/min ± 6 %, the reach of usual pitch controls (common practice, no source); the coarse-groove
    /// family from 71.29 − 2 % to 80 + 7 % rev/min, the historical speeds of ID3v2.4's TMED list with what is left of the same control.
    /// </summary>
    public static IReadOnlyList<(double ShortestSeconds, double LongestSeconds)> All { get; } =
    [
        (60 / 45.0 / 1.06, 60 / 45.0 / 0.94),
        (1.8 / 1.06, 1.8 / 0.94),
        (60 / 85.6, 60 / 69.9),
    ];

    /// <summary>The longest turn, seconds.</summary>
    public const double LongestSeconds = 1.8 / 0.94;
}
