using Microsoft.Extensions.Logging;

namespace Station.Daemon.Status;

/// <summary>What the page and the interface say in the log; event ids stable.</summary>
internal static partial class StatusLog
{
    [LoggerMessage(350, LogLevel.Warning, "{Problem} Its record is shown without the sides it names")]
    public static partial void SheetUnreadable(this ILogger log, string problem);
}
