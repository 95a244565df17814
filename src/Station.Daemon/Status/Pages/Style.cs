namespace Station.Daemon.Status.Pages;

/// <summary>The pages' style sheet, which travels inside the program.</summary>
internal static class Style
{
    public static byte[] Bytes { get; } = Load();

    private static byte[] Load()
    {
        using Stream stream = typeof(Style).Assembly.GetManifestResourceStream("Station.Daemon.Status.Pages.station.css")
            ?? throw new InvalidOperationException("The style sheet is missing from the program.");
        using var copy = new MemoryStream();
        stream.CopyTo(copy);
        return copy.ToArray();
    }
}
