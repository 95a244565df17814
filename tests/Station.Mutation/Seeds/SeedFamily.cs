namespace Station.Mutation.Seeds;

/// <summary>Which reader a seed is meant for.</summary>
public enum SeedFamily
{
    /// <summary>WAV, RF64, BW64.</summary>
    Wave,

    /// <summary>Wave64.</summary>
    Wave64,

    /// <summary>AIFF, AIFF-C.</summary>
    Aiff,

    /// <summary>FLAC, decoded by a child process.</summary>
    Flac,
}
