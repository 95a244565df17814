using System.Globalization;
using Station.Daemon.Jobs;

namespace Station.Daemon.Stages;

/// <summary>Numbers of bags that lie in a record's archive folder: the archive outlives the database.</summary>
internal static class BagNumbers
{
    /// <summary>The next number after every bag of these sides and after the capture's own.</summary>
    public static int Next(string recordFolder, Capture capture)
    {
        string prefix = $"{capture.LabelRecordId}-{capture.LabelSides}-c";
        return 1 + Directory.EnumerateDirectories(recordFolder)
            .Select(folder => Path.GetFileName(folder))
            .Where(name => name.StartsWith(prefix, StringComparison.OrdinalIgnoreCase))
            .Select(name => int.TryParse(name.AsSpan(prefix.Length), NumberStyles.None, CultureInfo.InvariantCulture, out int n) ? n : 0)
            .Append(capture.Number)
            .Max();
    }
}
