using Station.Audio.Encoding;

namespace Station.Mutation.Seeds;

/// <summary>A file of every format that is taken, and of every usual way a recorder leaves one behind.</summary>
public static class SeedFiles
{
    /// <summary>All of them, in a fixed order.</summary>
    public static IReadOnlyList<SeedFile> All(CodecTools codecs)
    {
        ArgumentNullException.ThrowIfNull(codecs);
        return [.. WaveSeeds.All(), .. Wave64Seeds.All(), .. AiffSeeds.All(), .. FlacSeeds.All(codecs.Flac)];
    }
}
