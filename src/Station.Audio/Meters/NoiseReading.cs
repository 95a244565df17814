using System.Collections.Immutable;

namespace Station.Audio.Meters;

/// <summary>Groove noise, rumble, hum, and what they tell of stylus and replay curve. A value without meaning is null.</summary>
public sealed record NoiseReading
{
    /// <summary>Nothing was measured.</summary>
    public static NoiseReading None { get; } = new();

    /// <summary>
    /// Groove noise of each channel from 200 Hz to 20 kHz (or 0.45 of the rate), unweighted, ticks left out, dB re a full-scale sine; null without bare groove.
    /// </summary>
    public ImmutableArray<double?> NoiseFloorDbfs { get; init; } = [];

    /// <summary>Groove noise of the worse channel, A-weighted (IEC 61672-1), ticks left out, dB re a full-scale sine; null without bare groove.</summary>
    public double? NoiseFloorDba { get; init; }

    /// <summary>
    /// What lies between 15 and 100 Hz in the bare groove, unweighted, lines of mains hum left out, worse channel, dB re a full-scale sine; null without
    /// two thirds of a second of bare groove.
    /// </summary>
    public double? RumbleDbfs { get; init; }

    /// <summary>Mains hum at any level; null when none was found.</summary>
    public HumReading? Hum { get; init; }

    /// <summary>Course of the groove noise's high end; null where fewer than two stretches of bare groove lie far enough apart.</summary>
    public TrebleTrend? Treble { get; init; }

    /// <summary>Spectrum of groove noise and music against that of the replay curve; null where neither can be told.</summary>
    public CurveEvidence? Curve { get; init; }
}
