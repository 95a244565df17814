namespace Station.Audio.Meters;

/// <summary>
/// How often the replay curve (3180, 318 and 75 µs) seems to have been applied, from three sides. Each figure moves by 1 for each time the curve is applied; where
/// it lies for once depends on the record.
/// </summary>
public sealed record CurveEvidence
{
    /// <summary>Slope of the groove noise's spectrum from 1.6 (or 0.8) to 14 kHz against the curve's: 1 for noise of even velocity; null where there is too little bare groove.</summary>
    public double? NoiseSlope { get; init; }

    /// <summary>Groove noise and rumble between 22 and 200 Hz against groove noise between 0.8 and 3.2 kHz, in units of the curve's own 17 dB.</summary>
    public double? LowSlope { get; init; }

    /// <summary>Slope of the music's mean spectrum from 22 Hz to 5.6 kHz against the curve's; null where there is too little music.</summary>
    public double? MusicSlope { get; init; }
}
