namespace Station.Audio.Meters;

/// <summary>How the high end of the groove noise changes from where the stylus lands to where it is lifted.</summary>
/// <remarks>
/// Groove noise between 5.6 and 14 kHz against that between 0.4 and 1.6 kHz in each stretch of bare groove, and a straight line through them: dirt that gathers on the
/// stylus takes the treble away little by little, in noise and music alike. Music is not looked at, for it may end more softly than it began.
/// </remarks>
public sealed record TrebleTrend
{
    /// <summary>Change over the side along the line, dB; negative where treble is lost.</summary>
    public required double ChangeDb { get; init; }

    /// <summary>How far the stretches lie from the line, RMS, dB.</summary>
    public required double ScatterDb { get; init; }

    /// <summary>Stretches of bare groove.</summary>
    public required int Stretches { get; init; }
}
