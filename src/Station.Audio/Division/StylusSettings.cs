using System.ComponentModel.DataAnnotations;

namespace Station.Audio.Division;

/// <summary>When the stylus counts as lifted. Bound from configuration.</summary>
public sealed record StylusSettings
{
    /// <summary>
    /// Shortest stretch inside a capture that counts, seconds, 1 to 600. Default 3: setting a stylus down again takes longer, most gaps between
    /// tracks are shorter (own choice, no source).
    /// </summary>
    [Range(1.0, 600.0)]
    public double ShortestSeconds { get; set; } = 3;

    /// <summary>The groove's subsonic level stands at least this far above that of a lifted stylus, dB, 3 to 40. Default 10 (own choice, from trials).</summary>
    [Range(3.0, 40.0)]
    public double SubsonicDb { get; set; } = 10;

    /// <summary>The groove's noise stands at least this far above that of a lifted stylus, dB, 3 to 40. Default 6 (own choice, from trials).</summary>
    [Range(3.0, 40.0)]
    public double NoiseDb { get; set; } = 6;
}
