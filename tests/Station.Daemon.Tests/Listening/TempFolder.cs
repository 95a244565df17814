using System.Security.Cryptography;

namespace Station.Daemon.Tests.Listening;

/// <summary>A folder of its own for one test, gone afterwards.</summary>
internal sealed class TempFolder : IDisposable
{
    public TempFolder() => Path = Directory.CreateTempSubdirectory("stationd-test-").FullName;

    private TempFolder(string path) => Path = Directory.CreateDirectory(path).FullName;

    /// <summary>
    /// A folder in memory where the system has such a place, for tests that kill the same job some thousand times: what they check is the order of
    /// changes, and waiting for a disk at every one of them would take the better part of an hour.
    /// </summary>
    public static TempFolder InMemory() => Directory.Exists("/dev/shm")
        ? new TempFolder("/dev/shm/stationd-test-" + Convert.ToHexStringLower(RandomNumberGenerator.GetBytes(8)))
        : new TempFolder();

    public string Path { get; }

    public string At(params string[] parts) => System.IO.Path.Combine([Path, .. parts]);

    /// <summary>Every file below the folder, relative, with its content as text, in order.</summary>
    public SortedDictionary<string, string> Files() => new(
        Directory.EnumerateFiles(Path, "*", SearchOption.AllDirectories)
            .ToDictionary(p => System.IO.Path.GetRelativePath(Path, p), File.ReadAllText), StringComparer.Ordinal);

    /// <summary>By the class library, not by the code under test.</summary>
    public static string Sha256(string path) => Convert.ToHexStringLower(SHA256.HashData(File.ReadAllBytes(path)));

    public void Dispose() => Directory.Delete(Path, recursive: true);
}
