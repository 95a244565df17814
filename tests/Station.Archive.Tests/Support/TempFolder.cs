using Station.Archive.Durability;

namespace Station.Archive.Tests.Support;

/// <summary>A folder of its own for one test, gone afterwards with all it holds.</summary>
public sealed class TempFolder : IDisposable
{
    public TempFolder()
        : this(System.IO.Path.GetTempPath())
    {
    }

    public TempFolder(string root)
    {
        Path = Directory.CreateDirectory(System.IO.Path.Combine(root, "station-archive-" + System.IO.Path.GetRandomFileName())).FullName;
    }

    public string Path { get; }

    public string this[string name] => System.IO.Path.Combine(Path, name);

    /// <summary>Names of everything in it, sorted.</summary>
    public string[] Names => [.. Directory.GetFileSystemEntries(Path).Select(System.IO.Path.GetFileName).Order(StringComparer.Ordinal)!];

    public string Write(string name, string text)
    {
        Directory.CreateDirectory(System.IO.Path.GetDirectoryName(this[name])!);
        File.WriteAllText(this[name], text);
        return this[name];
    }

    public string Write(string name, byte[] bytes)
    {
        Directory.CreateDirectory(System.IO.Path.GetDirectoryName(this[name])!);
        File.WriteAllBytes(this[name], bytes);
        return this[name];
    }

    public void Dispose() => DurableFile.DeleteFolder(Path);
}
