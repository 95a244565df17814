namespace Station.Audio.Meters;

/// <summary>What the meters may be told. The defaults suit every capture.</summary>
public sealed record MeterSettings
{
    /// <summary>
    /// Shortest run at full scale that counts as clipping, samples; at least 1. Default 3: the rule of thumb for one "over" (common
    /// practice among disc mastering meters, no source).
    /// </summary>
    public int ShortestClipRunFrames { get; set; } = 3;

    /// <summary>
    /// Most runs kept per channel and polarity; at least 2. Past it every second kept run is dropped and from there only every second,
    /// fourth, … is kept, so the list stays spread over the whole side. Counts stay exact. Default 8192 (0.25 MB).
    /// </summary>
    public int MaxClipRuns { get; set; } = 8192;

    /// <summary>Most places of invalid samples kept. Default 1000.</summary>
    public int MaxInvalidPositions { get; set; } = 1000;
}
