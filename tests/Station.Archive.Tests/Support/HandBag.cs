using System.Text;
using Station.Archive.Bags;

namespace Station.Archive.Tests.Support;

/// <summary>A bag put together by hand, with every liberty to do it wrong.</summary>
internal sealed class HandBag
{
    private readonly List<(string Path, string InManifest, byte[] Content)> _payload = [];

    public HandBag(string folder)
    {
        Folder = folder;
        Directory.CreateDirectory(Path.Combine(folder, "data"));
        Write("bagit.txt", "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n");
    }

    public string Folder { get; }

    public HandBag Write(string name, string text) => Write(name, Encoding.UTF8.GetBytes(text));

    public HandBag Write(string name, byte[] bytes)
    {
        string path = Path.Combine(Folder, name);
        Directory.CreateDirectory(Path.GetDirectoryName(path)!);
        File.WriteAllBytes(path, bytes);
        return this;
    }

    /// <summary>Adds a payload file, written in manifests as <paramref name="inManifest"/>.</summary>
    public HandBag Payload(string path, string content, string? inManifest = null)
    {
        byte[] bytes = Encoding.UTF8.GetBytes(content);
        _payload.Add((path, inManifest ?? path, bytes));
        return Write(path, bytes);
    }

    public string Line(string algorithm, string path, string gap = "  ")
    {
        (string _, string inManifest, byte[] content) = _payload.Find(file => file.Path == path);
        return SampleBag.Hex(algorithm, content) + gap + inManifest + "\n";
    }

    /// <summary>Writes a payload manifest of all payload files.</summary>
    public HandBag Manifest(string algorithm = "sha256", string gap = "  ", string more = "") =>
        Write($"manifest-{algorithm}.txt", string.Concat(_payload.Select(file => Line(algorithm, file.Path, gap))) + more);

    /// <summary>Writes a tag manifest of the given tag files as they are now.</summary>
    public HandBag TagManifest(string algorithm, params string[] names) =>
        Write($"tagmanifest-{algorithm}.txt", string.Concat(names.Select(name => $"{SampleBag.Hex(algorithm, File.ReadAllBytes(Path.Combine(Folder, name)))}  {name}\n")));

    public BagCheck Check(BagDepth depth = BagDepth.Full) => BagReader.Check(Folder, depth);
}
