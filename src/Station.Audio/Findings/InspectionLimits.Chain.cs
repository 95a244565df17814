namespace Station.Audio.Findings;

/// <content>Limits of what the chain in front of the converter did to the wave, and of what the file carries.</content>
public sealed partial record InspectionLimits
{
    /// <summary>Fewest flat tops at one level that are mentioned at all, 3 to 1000. Default 5 (own choice: clean tuning sides have none at their highest level).</summary>
    public int FewestFlatTops { get; set; } = 5;

    /// <summary>Flat tops in the music from which the side should be played again, 3 to 100000. Default 12 (own choice, no source).</summary>
    public int RetakeFlatTops { get; set; } = 12;

    /// <summary>Seconds with a flat top in them from which the side should be played again, 1 to 1000. Default 3 (own choice: fewer is an accident).</summary>
    public int RetakeFlatTopSeconds { get; set; } = 3;

    /// <summary>
    /// Compression of one polarity, at the level that one sample in a thousand exceeds, from which a person should look, dB, 0.8 to 12. Default 1.1
    /// (measured on tuning sides: clean ones read up to 0.8 in both channels).
    /// </summary>
    public double SaturationDb { get; set; } = 1.1;

    /// <summary>Lowest cut-off that is as a converter's own filter should be, share of half the sample rate, 0.5 to 0.99. Default 0.875 (own choice: 19.3 kHz at 44.1 kHz, 21 kHz at 48 kHz).</summary>
    public double LowestCutOffShare { get; set; } = 0.875;
}
