namespace Station.Daemon.Tests.Jobs.Support;

/// <summary>Files of the repository that tests look at: the documents and the example configuration are part of the product.</summary>
internal static class Repository
{
    private static readonly string Root = Find();

    public static string File(string relative) => Path.Combine(Root, relative);

    private static string Find()
    {
        for (DirectoryInfo? folder = new(AppContext.BaseDirectory); folder is not null; folder = folder.Parent)
        {
            if (System.IO.File.Exists(Path.Combine(folder.FullName, "StationDaemon.sln")))
            {
                return folder.FullName;
            }
        }

        throw new InvalidOperationException($"No StationDaemon.sln above {AppContext.BaseDirectory}.");
    }
}
