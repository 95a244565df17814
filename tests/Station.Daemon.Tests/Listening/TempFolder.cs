using System.Security.Cryptography;

namespace Station.Daemon.Tests.Listening;

/// <summary>A folder of its own for one test, gone afterwards.</summary>
internal sealed class TempFolder : IDisposable
{
    public TempFolder() => Path = Directory.CreateTempSubdirectory("stationd-test-").FullName;

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
