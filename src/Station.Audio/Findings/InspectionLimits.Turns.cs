namespace Station.Audio.Findings;

/// <content>Limits of what is measured by the turn: speed, crackle, scratches, wow.</content>
public sealed partial record InspectionLimits
{
    /// <summary>
    /// Speed error from which a person decides when the sheet tells the disc's speed, %, 0.1 to 20. Default 0.8: IEC 60098 lets the recording be off
    /// by 0.5 % (confirmed in an excerpt), and 1 % is 17 cents (computed); own choice between.
    /// </summary>
    public double SpeedErrorPercent { get; set; } = 0.8;

    /// <summary>
    /// The same without a sheet, when the nearest usual speed is all there is to go by, %, 0.1 to 20. Default 1.5, the most a hi-fi turntable may be
    /// off (DIN 45500, from memory).
    /// </summary>
    public double SpeedErrorWithoutSheetPercent { get; set; } = 1.5;

    /// <summary>Least confidence of a turn that is held against these, 0.5 to 1. Default 0.5: every turn that is told (own choice).</summary>
    public double LeastTurnConfidence { get; set; } = 0.5;

    /// <summary>
    /// Ticks a minute in bare groove from which it crackles, 10 to 10,000. Default 150: recorded noise of a good disc has up to 70 (own choice; there is no
    /// published limit).
    /// </summary>
    public double TicksPerMinute { get; set; } = 150;

    /// <summary>Least ticks of a row, one a turn, that is called a scratch, 6 to 100. Default 6 (own choice).</summary>
    public int ScratchTicks { get; set; } = 6;

    /// <summary>
    /// Peak deviation of pitch once per turn that is remarked on, %, 0.1 to 10. Default 0.4: a hole 0.2 mm off centre gives 0.33 at the innermost groove
    /// (computed); own choice above it.
    /// </summary>
    public double WowPercent { get; set; } = 0.4;
}
