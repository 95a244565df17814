using System.Collections.Immutable;

namespace Station.Audio.Meters;

/// <summary>How left and right compare. Differences are left minus right; a value without meaning is null.</summary>
public sealed record WiringReading
{
    // Walls closer than this are alike; own choice.
    private const double AlikeDb = 0.5;

    /// <summary>Every frame's two words are equal, and not all of them silence.</summary>
    public bool Identical { get; init; }

    /// <summary>Left over right in the loud half of the music, groove band, dB; null when there is no music or a channel is digitally silent.</summary>
    public double? MusicDifferenceDb { get; init; }

    /// <summary>Left over right in the bare groove, groove band, dB; null when no bare groove was found or a channel is digitally silent there.</summary>
    public double? NoiseDifferenceDb { get; init; }

    /// <summary>Bare groove the noise was compared on, seconds.</summary>
    public double NoiseSeconds { get; init; }

    /// <summary>Left over right of the arm's resonance and the rumble, 5 to 36 Hz, dB: half of the time it is more, half less; null for digital silence.</summary>
    public double? SubsonicDifferenceDb { get; init; }

    /// <summary>Left over right in the loud half of the deep bass, 55 to 110 Hz, dB; null for digital silence.</summary>
    public double? BassDifferenceDb { get; init; }

    /// <summary>Correlation of left and right in the loud half of the deep bass, 55 to 110 Hz, −1 to +1; null when a channel has none.</summary>
    public double? DeepBassCorrelation { get; init; }

    /// <summary>The same in up to eight parts of equal length, of those that have bass, in order.</summary>
    public ImmutableArray<double> DeepBassParts { get; init; } = [];

    /// <summary>Correlation of left and right in the loud half of the upper bass, 110 to 260 Hz, −1 to +1; null when a channel has none.</summary>
    public double? UpperBassCorrelation { get; init; }

    /// <summary>Correlation in the loud half of the music, groove band, −1 to +1; null when there is no music or a channel has none.</summary>
    public double? BandCorrelation { get; init; }

    /// <summary>Difference of the channels over their sum in the loud half of the music, groove band, dB; null as <see cref="BandCorrelation"/>.</summary>
    public double? ResidualDb { get; init; }

    /// <summary>What adding the channels gains over the better one in the noise of a mono groove, dB; null without bare groove.</summary>
    public double? SumGainDb { get; init; }

    /// <summary>The side read as a mono groove; null when a channel has no music.</summary>
    public MonoReading? Mono => ResidualDb is not double residual ? null : new MonoReading(
        residual,
        (NoiseDifferenceDb - MusicDifferenceDb) switch { < -AlikeDb => 0, > AlikeDb => 1, _ => null },
        SumGainDb);

    /// <summary>Long stretches in which one channel gives nothing of its own while the other plays.</summary>
    public ImmutableArray<DeadStretch> Dead { get; init; } = [];
}
