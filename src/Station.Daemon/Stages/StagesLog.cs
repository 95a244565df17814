using Microsoft.Extensions.Logging;

namespace Station.Daemon.Stages;

/// <summary>What the stages say in the log beside their outcome: one line an event, event ids stable.</summary>
internal static partial class StagesLog
{
    [LoggerMessage(360, LogLevel.Warning, "{Capture}: its stored fingerprint can't be compared with: {Reason}")]
    public static partial void FingerprintUnusable(this ILogger log, string capture, string reason);
}
