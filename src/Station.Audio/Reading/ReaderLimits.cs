namespace Station.Audio.Reading;

/// <summary>What a capture may ask of the station. Everything here is checked before or while decoding, never by trusting a stated length.</summary>
public sealed record ReaderLimits
{
    /// <summary>Largest file, bytes. Default 64 GiB: four hours of 192 kHz stereo in 64-bit floats are 44 GB (computed).</summary>
    public long MaxFileBytes { get; set; } = 64L << 30;

    /// <summary>Longest sound, seconds, enforced while decoding too. Default four hours: far above any side, below a forgotten recorder.</summary>
    public double MaxDurationSeconds { get; set; } = 4 * 3600;

    /// <summary>Lowest sample rate, Hz. Default 22 050: below that the treble of a record is gone.</summary>
    public int MinSampleRateHz { get; set; } = 22_050;

    /// <summary>Highest sample rate, Hz. Default 192 000: the fastest rate in common use by converters.</summary>
    public int MaxSampleRateHz { get; set; } = 192_000;

    /// <summary>A FLAC whose sound is damaged is refused where the damage begins, instead of being repaired.</summary>
    internal bool DamagedSoundRefused { get; init; }

    /// <summary>No limits, and no repair of sound: for files this service wrote itself or knows to be whole.</summary>
    public static ReaderLimits Whole => None with { DamagedSoundRefused = true };

    /// <summary>No limits: for files that were taken before.</summary>
    public static ReaderLimits None => new()
    {
        MaxFileBytes = long.MaxValue,
        MaxDurationSeconds = double.PositiveInfinity,
        MinSampleRateHz = 1,
        MaxSampleRateHz = int.MaxValue,
    };
}
