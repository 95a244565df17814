namespace Station.Evaluation.Judging;

/// <summary>Names of the figures the scorer compares with the truth.</summary>
public static class MeasureNames
{
    /// <summary>Fundamental of the mains hum, Hz.</summary>
    public const string HumHz = "hum.fundamentalHz";

    /// <summary>Peak of the hum's fundamental in the worse channel, dBFS.</summary>
    public const string HumDbfs = "hum.levelDbfs";

    /// <summary>How much faster than nominal, %.</summary>
    public const string SpeedErrorPercent = "revolution.errorPercent";

    /// <summary>Groove noise, A-weighted, dBFS (full-scale sine = 0).</summary>
    public const string NoiseDba = "noiseFloorDba";

    /// <summary>Mean sample of the worse channel, magnitude, full scale = 1.</summary>
    public const string DcOffset = "dcOffset";

    /// <summary>Ticks per minute.</summary>
    public const string TicksPerMinute = "ticksPerMinute";
}
