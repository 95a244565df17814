namespace Station.Audio.Findings;

/// <content>Wiring: dead, weak and reversed channels.</content>
public sealed partial record InspectionLimits
{
    /// <summary>
    /// A channel is dead when the noise of the groove lies at least this far lower in it than in the other one, and the music is gone from it; dB, 2 to
    /// 20. Default 4: the two walls of a groove differ by 1 dB on clean tuning sides, electronics lie 8 dB and more below groove noise (own choice).
    /// </summary>
    public double DeadChannelNoiseDb { get; set; } = 4;

    /// <summary>
    /// A channel is weak when music and groove noise are both at least this much lower in it; dB, 2 to 20. Default 4.5: cartridges match within 2 dB
    /// (hi-fi limit, from memory of DIN 45500), clean tuning sides within 1.1 dB in noise; the choice is this project's.
    /// </summary>
    public double WeakChannelDb { get; set; } = 4.5;

    /// <summary>Shortest bare groove that noise is compared on, seconds, 0.5 to 60. Default 1.5 (own choice).</summary>
    public double LeastNoiseSeconds { get; set; } = 1.5;

    /// <summary>
    /// Correlation of the deep bass (55 to 110 Hz) at which the channels count as reversed, −1 to 0. Default −0.5: bass is cut in common, so right
    /// discs lie near +1, reversed ones near −1; on tuning sides out-of-phase mixes fell to −0.26 and reversed ones with wide bass read −0.9 (own choice).
    /// </summary>
    public double ReversedBassCorrelation { get; set; } = -0.5;
}
