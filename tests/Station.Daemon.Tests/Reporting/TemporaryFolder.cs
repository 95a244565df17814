namespace Station.Daemon.Tests.Reporting;

/// <summary>A folder of a test's own, gone with it.</summary>
internal sealed class TemporaryFolder : IDisposable
{
    public TemporaryFolder() => Path = Directory.CreateTempSubdirectory("stationd-").FullName;

    public string Path { get; }

    public void Dispose()
    {
        try
        {
            Directory.Delete(Path, recursive: true);
        }
        catch (DirectoryNotFoundException)
        {
            // A test may have moved it away.
        }
    }
}
