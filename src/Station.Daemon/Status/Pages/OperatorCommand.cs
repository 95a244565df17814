using Station.Daemon.Configuration;

namespace Station.Daemon.Status.Pages;

/// <summary>
/// The command a person types to decide, ready to be copied. It names the station folder only where the page can't be seen from
/// other machines: where things lie on disk is nobody else's business.
/// </summary>
internal sealed class OperatorCommand(StatusOptions options, StationFolders folders)
{
    private readonly string _station =
        ListenAddress.TryParse(options.Listen, out ListenAddress? address) && address.IsLoopback ? $" --station {Quoted(folders.Root)}" : "";

    public string Accept(string label) => $"stationd accept {Quoted(label)} --why \"{PageText.WhyPlaceholder}\"{_station}";

    public string Discard(string label) => $"stationd discard {Quoted(label)} --why \"{PageText.WhyPlaceholder}\"{_station}";

    public string Retry(string label) => $"stationd retry {Quoted(label)}{_station}";

    /// <summary>As a POSIX shell reads it: plain words stay as they are, others are put in single quotes.</summary>
    private static string Quoted(string word) =>
        word.All(c => char.IsAsciiLetterOrDigit(c) || c is '-' or '_' or '.' or '/') ? word : "'" + word.Replace("'", "'\\''", StringComparison.Ordinal) + "'";
}
