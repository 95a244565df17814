namespace Station.Audio.Tests.Reading;

/// <summary>A temporary folder that is gone after the test.</summary>
public sealed class TestFolder : IDisposable
{
    private int _count;

    public TestFolder() => Path = Directory.CreateTempSubdirectory("station-audio-").FullName;

    public string Path { get; }

    public string New(string extension) =>
        System.IO.Path.Combine(Path, FormattableString.Invariant($"f{Interlocked.Increment(ref _count)}{extension}"));

    public string Write(byte[] content, string extension = ".wav")
    {
        string path = New(extension);
        File.WriteAllBytes(path, content);
        return path;
    }

    public void Dispose() => Directory.Delete(Path, recursive: true);
}
