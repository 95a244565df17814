using System.ComponentModel.DataAnnotations;

namespace Station.Daemon.Configuration;

/// <summary>Where the station stands on disk. Section <c>Station</c>.</summary>
internal sealed class StationOptions
{
    public const string Section = "Station";

    /// <summary>The station's name in alerts and on the page; default <c>station</c>.</summary>
    [Required, StringLength(64, MinimumLength = 1)]
    public string Name { get; set; } = "station";

    /// <summary>The station folder, absolute; made when absent. <c>--station</c> on the command line wins.</summary>
    public string Folder { get; set; } = "";

    /// <summary>Absolute folder of the archive when it stands elsewhere (another disk); default <c>archive</c> in the station folder.</summary>
    public string? Archive { get; set; }

    /// <summary>Absolute folder of the listening copies when it stands elsewhere; default <c>listening</c> in the station folder.</summary>
    public string? Listening { get; set; }
}
