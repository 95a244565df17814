namespace Station.Evaluation.Music;

/// <summary>One piece of music and what a scan found out about it.</summary>
public sealed record Track
{
    /// <summary>The package.</summary>
    public required string Package { get; init; }

    /// <summary>Path below the package's folder.</summary>
    public required string Path { get; init; }

    /// <summary>Length, seconds.</summary>
    public required double Seconds { get; init; }

    /// <summary>
    /// Samples above 0.9 of the level that one sample in ten thousand exceeds, as a share of those between 0.75 and 0.9 of it. Amplitudes of music
    /// thin out upwards; where they pile up at the top, the tops are flat.
    /// </summary>
    public required double TopShare { get; init; }

    /// <summary>Root mean square of each second, linear, both channels.</summary>
    public required float[] SecondRms { get; init; }

    /// <summary>Correlation of the channels below 300 Hz, −1 to 1; 1 for one channel.</summary>
    public required double BassCorrelation { get; init; }

    /// <summary>Correlation of the channels, −1 to 1.</summary>
    public required double Correlation { get; init; }

    /// <summary>Loudest channel's level over the quieter one's, dB.</summary>
    public required double BalanceDb { get; init; }
}
