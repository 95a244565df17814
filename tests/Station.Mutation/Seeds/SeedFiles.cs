using Station.Audio.Encoding;

namespace Station.Mutation.Seeds;

/// <summary>A file of every format that is taken, and of every usual way a recorder leaves one behind.</summary>
public static class SeedFiles
{
    /// <summary>All of them, in a fixed order.</summary>
    /// <param name="codecs">For FLAC.</param>
    /// <param name="divisor">1 for one to some ten thousand samples each; 10 for a tenth of that.</param>
    public static IReadOnlyList<SeedFile> All(CodecTools codecs, int divisor = 1)
    {
        ArgumentNullException.ThrowIfNull(codecs);
        var sound = new SoundWords(divisor);
        return [.. WaveSeeds.All(sound), .. Wave64Seeds.All(sound), .. AiffSeeds.All(sound), .. FlacSeeds.All(sound, codecs.Flac)];
    }
}
