using System.ComponentModel.DataAnnotations;

namespace Station.Daemon.Configuration;

/// <summary>What the service writes about itself. Section <c>Log</c>.</summary>
internal sealed class LogOptions
{
    public const string Section = "Log";

    /// <summary><c>Debug</c>, <c>Information</c>, <c>Warning</c> or <c>Error</c>; default <c>Information</c>.</summary>
    [AllowedValues("Debug", "Information", "Warning", "Error")]
    public string Level { get; set; } = "Information";

    /// <summary>Write JSON, one event a line, to <c>state/log/</c> as well; default true.</summary>
    public bool File { get; set; } = true;

    /// <summary>Days of log files kept: 1 to 3650, default 30.</summary>
    [Range(1, 3650)]
    public int KeepDays { get; set; } = 30;
}
