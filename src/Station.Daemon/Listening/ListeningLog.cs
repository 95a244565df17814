using Microsoft.Extensions.Logging;

namespace Station.Daemon.Listening;

/// <summary>What publishing says in the log: one line an event, event ids stable.</summary>
internal static partial class ListeningLog
{
    [LoggerMessage(400, LogLevel.Warning, "{Capture}: {Remark}")]
    public static partial void Remark(this ILogger log, string capture, string remark);
}
