namespace Station.Audio.Meters;

/// <summary>
/// How often the replay curve (3180, 318 and 75 µs) seems to have been applied, from two sides. Each figure moves by 1 for each time the curve is applied; where
/// it lies for once depends on the record.
/// </summary>
public sealed record CurveEvidence
{
    /// <summary>
    /// Slope of the bare groove's spectrum, rumble and noise together, from 22 Hz to 14 kHz against the curve's: 1 for a groove of even velocity; null where there is too little of it
    /// above the electronics' own noise.
    /// </summary>
    public double? GrooveSlope { get; init; }

    /// <summary>
    /// What that slope is at least, where the groove's treble is lost in the electronics' own noise: they alone say how loud it can be at most. Null where nothing is lost, or all.
    /// </summary>
    public double? LeastGrooveSlope { get; init; }

    /// <summary>As <see cref="GrooveSlope"/>, from 200 Hz up: without rumble.</summary>
    public double? HissSlope { get; init; }

    /// <summary>As <see cref="LeastGrooveSlope"/>, from 200 Hz up.</summary>
    public double? LeastHissSlope { get; init; }

    /// <summary>Slope of the music's mean spectrum from 22 Hz to 8 kHz against the curve's; null where there is too little music.</summary>
    public double? MusicSlope { get; init; }
}
