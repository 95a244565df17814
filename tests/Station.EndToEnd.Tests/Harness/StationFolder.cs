using System.Globalization;
using System.Text.Json;
using System.Text.Json.Nodes;

namespace Station.EndToEnd.Tests.Harness;

/// <summary>A fresh station folder with its configuration file, removed with everything in it at the end.</summary>
internal sealed class StationFolder : IDisposable
{
    private const string Memory = "/dev/shm";      // shm_overview(7)

    private readonly string _base;

    /// <param name="configure">Changes the configuration before it is written.</param>
    /// <param name="inMemory">On a file system in memory where there is one: for many files, none of which is to survive anything.</param>
    public StationFolder(Action<JsonObject>? configure = null, bool inMemory = false)
    {
        // A short path: the control socket's is limited to 107 bytes (unix(7)).
        _base = inMemory && HasMemory
            ? Directory.CreateDirectory(Path.Combine(Memory, "st" + Path.GetRandomFileName())).FullName
            : Directory.CreateTempSubdirectory("st").FullName;
        Root = Path.Combine(_base, "s");
        ConfigurationFile = Path.Combine(_base, "station.json");
        var configuration = new JsonObject
        {
            ["Station"] = new JsonObject { ["Name"] = "quay", ["Folder"] = Root },
            ["Intake"] = new JsonObject { ["QuietSeconds"] = 0.2, ["UnfinishedQuietSeconds"] = 0.5, ["SweepSeconds"] = 0.2 },
            ["Division"] = new JsonObject { ["ShortestTrackSeconds"] = 3 },
            ["Status"] = new JsonObject { ["Listen"] = "127.0.0.1:0" },
        };
        configure?.Invoke(configuration);
        File.WriteAllText(ConfigurationFile, configuration.ToJsonString(new JsonSerializerOptions { WriteIndented = true }));
        Directory.CreateDirectory(Inbox);
    }

    /// <summary>A station like another, which must not run.</summary>
    public static async Task<StationFolder> CopyAsync(StationFolder other, Action<JsonObject>? configure = null)
    {
        var copy = new StationFolder(configure);
        await Tool.MustRunAsync("cp", ["--archive", "--no-target-directory", other.Root, copy.Root]);
        return copy;
    }

    public static bool HasMemory => Directory.Exists(Memory);

    public string Root { get; }

    public string ConfigurationFile { get; }

    /// <summary>A place outside the station for whatever a test needs.</summary>
    public string Scratch => _base;

    public string Inbox => In("inbox");

    public string In(params string[] parts) => Path.Combine([Root, .. parts]);

    /// <summary>Drops a file the way careful programs do: written under a temporary name, then renamed.</summary>
    public string Drop(string name, ReadOnlySpan<byte> content)
    {
        string hidden = Path.Combine(Inbox, ".arriving");
        string path = Path.Combine(Inbox, name);
        File.WriteAllBytes(hidden, content);
        Tool.Rename(hidden, path);
        return path;
    }

    /// <summary>Every file below a folder of the station, or none when the folder is missing.</summary>
    public string[] Files(params string[] parts) =>
        Directory.Exists(In(parts)) ? [.. Directory.EnumerateFiles(In(parts), "*", SearchOption.AllDirectories).Order(StringComparer.Ordinal)] : [];

    /// <summary>The newest report of a capture, such as HL-0031-A-c1.</summary>
    public JsonNode Report(string label) => JsonNode.Parse(File.ReadAllBytes(ReportPath(label)))!;

    public string ReportPath(string label) =>
        Directory.EnumerateFiles(In("reports"), label + "-????????-*.json").Order(StringComparer.Ordinal).LastOrDefault()
        ?? throw new FileNotFoundException(string.Create(CultureInfo.InvariantCulture, $"There is no report of {label}; there are: {string.Join(", ", Files("reports").Select(Path.GetFileName))}"));

    public void Dispose()
    {
        foreach (string folder in Directory.EnumerateDirectories(_base, "*", SearchOption.AllDirectories))
        {
            File.SetUnixFileMode(folder, UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute);     // bags are read-only
        }

        Directory.Delete(_base, recursive: true);
    }
}
