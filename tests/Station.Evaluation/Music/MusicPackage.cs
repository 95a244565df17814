namespace Station.Evaluation.Music;

/// <summary>A Debian package with freely licensed music.</summary>
/// <param name="Name">The package.</param>
/// <param name="Set">Which half it belongs to.</param>
/// <param name="Licence">As its copyright file states for the music.</param>
/// <param name="Pattern">File names taken, as a search pattern.</param>
/// <param name="MostTracks">No more than this many, in the order of their paths.</param>
public sealed record MusicPackage(string Name, MusicSet Set, string Licence, string Pattern, int MostTracks = 40)
{
    /// <summary>The package with eight seconds of real groove noise (<c>vinyl_hiss.flac</c>, CC0).</summary>
    public const string GrooveNoise = "sonic-pi-samples";

    /// <summary>Everything used, from Debian 12 main. The licences were read in each package's copyright file.</summary>
    public static IReadOnlyList<MusicPackage> All { get; } =
    [
        new("wesnoth-1.16-music", MusicSet.Tuning, "GPL-2+", "*.ogg"),
        new("colobot-common-sounds", MusicSet.Tuning, "GPL-3+", "*.ogg"),
        new("fretsonfire-songs-muldjord", MusicSet.Tuning, "CC-BY-SA-3.0", "song.ogg"),
        new("ardentryst", MusicSet.Tuning, "CC-BY-SA-3.0", "*.ogg"),
        new("asc-music", MusicSet.Tuning, "GPL-2+", "*.mp3"),
        new("lincity-ng-data", MusicSet.Counting, "GPL-2+", "*.ogg"),
        new("fillets-ng-data", MusicSet.Counting, "GPL-2+", "rybky*.ogg"),
        new("freedink-data", MusicSet.Counting, "CC-BY-3.0, CC-BY-SA-3.0, Free Art 1.3 or Open Audio 1.0.1, by track", "*.ogg"),
        new("singularity-music", MusicSet.Counting, "CC-BY-SA-3.0", "*.ogg"),
        new("hyperrogue-music", MusicSet.Counting, "CC-BY-SA-3.0", "*.ogg"),
        new("fretsonfire-songs-sectoid", MusicSet.Counting, "MIT", "song.ogg"),
        new("frozen-bubble-data", MusicSet.Counting, "GPL-2", "*zik*.ogg"),
        new("warzone2100-music", MusicSet.Counting, "GPL-2+", "track?.opus", 12),
    ];
}
