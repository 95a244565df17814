using System.Text.Json;
using Station.Evaluation.Signal;

namespace Station.Evaluation.Music;

/// <summary>The music of one set, fetched once into a cache folder outside the repository.</summary>
public sealed class MusicLibrary : IMusicSource
{
    private const double ShortestTrackSeconds = 40;
    private readonly string _packages;
    private readonly StereoSignal _texture;

    private MusicLibrary(string packages, IReadOnlyList<Track> tracks, StereoSignal texture)
    {
        _packages = packages;
        Tracks = tracks;
        _texture = texture;
    }

    /// <inheritdoc/>
    public IReadOnlyList<Track> Tracks { get; }

    /// <summary>Fetches what is missing, scans what is new.</summary>
    /// <param name="cache">Folder for packages and scans; made when absent.</param>
    /// <param name="set">Which half.</param>
    /// <param name="say">Told what goes on.</param>
    public static MusicLibrary Open(string cache, MusicSet set, Action<string> say)
    {
        ArgumentNullException.ThrowIfNull(say);
        string packages = Path.Combine(cache, "packages");
        Directory.CreateDirectory(packages);
        var tracks = new List<Track>();
        foreach (MusicPackage package in MusicPackage.All.Where(p => p.Set == set))
        {
            Fetch(cache, packages, package.Name, say);
            tracks.AddRange(Scanned(cache, packages, package, say));
        }

        Fetch(cache, packages, MusicPackage.GrooveNoise, say);
        string texture = Directory.EnumerateFiles(Path.Combine(packages, MusicPackage.GrooveNoise), "vinyl_hiss.flac", SearchOption.AllDirectories).First();

        // The tuning model sees the first half of the only real recording, the counting model the second.
        StereoSignal half = AudioDecoder.Decode(texture, set == MusicSet.Tuning ? 0 : 4, 4, 48000);
        return new MusicLibrary(packages, [.. tracks.Where(TrackScan.Usable)], half);
    }

    /// <summary>Every track of the set with its scan, those left out included.</summary>
    public static IReadOnlyList<Track> Listing(string cache, MusicSet set, Action<string> say) =>
        [.. MusicPackage.All.Where(p => p.Set == set).SelectMany(p => Scanned(cache, Path.Combine(cache, "packages"), p, say))];

    /// <inheritdoc/>
    public StereoSignal Excerpt(Track track, double startSeconds, double seconds, int sampleRateHz)
    {
        ArgumentNullException.ThrowIfNull(track);
        return AudioDecoder.Decode(Path.Combine(_packages, track.Package, track.Path), startSeconds, seconds, sampleRateHz);
    }

    /// <inheritdoc/>
    public StereoSignal GrooveTexture() => _texture;

    private static void Fetch(string cache, string packages, string name, Action<string> say)
    {
        string folder = Path.Combine(packages, name);
        if (Directory.Exists(folder))
        {
            return;
        }

        string debs = Path.Combine(cache, "debs");
        Directory.CreateDirectory(debs);
        say($"fetching {name}");
        ChildProcess.Run("apt-get", ["download", name], debs, Discard);
        string deb = Directory.EnumerateFiles(debs, name + "_*.deb").First();
        string partial = folder + ".part";
        ChildProcess.Run("dpkg", ["-x", deb, partial], null, Discard);
        ChildProcess.Run("mv", ["--no-target-directory", partial, folder], null, Discard);
        File.Delete(deb);
    }

    private static List<Track> Scanned(string cache, string packages, MusicPackage package, Action<string> say)
    {
        string file = Path.Combine(cache, $"scan-2-{package.Name}.json");
        if (File.Exists(file))
        {
            return JsonSerializer.Deserialize<List<Track>>(File.ReadAllText(file)) ?? throw new InvalidDataException($"{file} is empty: delete it.");
        }

        say($"scanning {package.Name}");
        string root = Path.Combine(packages, package.Name);
        string[] paths = [.. Directory.EnumerateFiles(root, package.Pattern, SearchOption.AllDirectories)
            .Where(p => new FileInfo(p).Length > 300_000).Order(StringComparer.Ordinal).Take(package.MostTracks)];
        List<Track> tracks = [.. paths.AsParallel().AsOrdered().WithDegreeOfParallelism(2)
            .Select(p => ScanOrSkip(package.Name, root, Path.GetRelativePath(root, p), say)).OfType<Track>().Where(t => t.Seconds >= ShortestTrackSeconds)];
        File.WriteAllText(file, JsonSerializer.Serialize(tracks));
        return tracks;
    }

    private static Track? ScanOrSkip(string package, string root, string path, Action<string> say)
    {
        try
        {
            return TrackScan.Scan(package, root, path);
        }
        catch (InvalidOperationException fault)
        {
            say($"left out, can't be decoded: {path}: {fault.Message}");
            return null;
        }
    }

    private static bool Discard(Stream stream)
    {
        stream.CopyTo(Stream.Null);
        return true;
    }
}
